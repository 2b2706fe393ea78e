//! petgraph's visit traits for the road graph, so that its components and its Dijkstra run on it.

use crate::roads::network::Arc;
use crate::routing::edges::Edges;
use crate::routing::graph::RoadGraph;
use petgraph::Direction;
use petgraph::visit::{
    Data, EdgeRef, GraphBase, GraphProp, IntoEdgeReferences, IntoEdges, IntoNeighbors, IntoNeighborsDirected,
    IntoNodeIdentifiers, NodeCount, NodeIndexable, VisitMap, Visitable,
};

/// An edge of the graph: a turn and the arc it leads into.
#[derive(Clone, Copy, Debug)]
pub struct TurnEdge {
    from: Arc,
    to: Arc,
    /// Milliseconds from the end of `from` to the end of `to`.
    ms: u64,
}

impl EdgeRef for TurnEdge {
    type NodeId = Arc;
    type EdgeId = (Arc, Arc);
    type Weight = u64;
    fn source(&self) -> Arc {
        self.from
    }
    fn target(&self) -> Arc {
        self.to
    }
    fn weight(&self) -> &u64 {
        &self.ms
    }
    fn id(&self) -> (Arc, Arc) {
        (self.from, self.to)
    }
}

/// Arcs seen by a petgraph algorithm.
#[derive(Clone, Debug, Default)]
pub struct Visited(Vec<bool>);

impl VisitMap<Arc> for Visited {
    fn visit(&mut self, arc: Arc) -> bool {
        !std::mem::replace(&mut self.0[arc.index()], true)
    }
    fn is_visited(&self, arc: &Arc) -> bool {
        self.0[arc.index()]
    }
    fn unvisit(&mut self, arc: Arc) -> bool {
        std::mem::replace(&mut self.0[arc.index()], false)
    }
}

impl GraphBase for RoadGraph<'_> {
    type NodeId = Arc;
    type EdgeId = (Arc, Arc);
}
impl GraphProp for RoadGraph<'_> {
    type EdgeType = petgraph::Directed;
}
impl Data for RoadGraph<'_> {
    type NodeWeight = ();
    type EdgeWeight = u64;
}
impl NodeCount for RoadGraph<'_> {
    fn node_count(&self) -> usize {
        self.topology.state_count()
    }
}
impl NodeIndexable for RoadGraph<'_> {
    fn node_bound(&self) -> usize {
        self.topology.state_count()
    }
    fn to_index(&self, arc: Arc) -> usize {
        arc.index()
    }
    fn from_index(&self, index: usize) -> Arc {
        Arc(index as u32)
    }
}
impl Visitable for RoadGraph<'_> {
    type Map = Visited;
    fn visit_map(&self) -> Visited {
        Visited(vec![false; self.topology.state_count()])
    }
    fn reset_map(&self, map: &mut Visited) {
        *map = self.visit_map();
    }
}

impl IntoNodeIdentifiers for &RoadGraph<'_> {
    type NodeIdentifiers = std::iter::Map<std::ops::Range<u32>, fn(u32) -> Arc>;
    fn node_identifiers(self) -> Self::NodeIdentifiers {
        (0..self.topology.state_count() as u32).map(Arc as fn(u32) -> Arc)
    }
}

/// Arcs at one end of an arc.
pub struct Neighbors<'a>(Edges<'a>);

impl Iterator for Neighbors<'_> {
    type Item = Arc;
    fn next(&mut self) -> Option<Arc> {
        self.0.next().map(|edge| edge.to)
    }
}

impl<'a> IntoNeighbors for &'a RoadGraph<'_> {
    type Neighbors = Neighbors<'a>;
    fn neighbors(self, arc: Arc) -> Neighbors<'a> {
        Neighbors(self.onward(arc))
    }
}
impl<'a> IntoNeighborsDirected for &'a RoadGraph<'_> {
    type NeighborsDirected = Neighbors<'a>;
    fn neighbors_directed(self, arc: Arc, direction: Direction) -> Neighbors<'a> {
        Neighbors(match direction {
            Direction::Outgoing => self.onward(arc),
            Direction::Incoming => self.inward(arc),
        })
    }
}

/// Turns out of an arc, as weighted edges.
pub struct TurnEdges<'a> {
    from: Arc,
    edges: Edges<'a>,
}

impl Iterator for TurnEdges<'_> {
    type Item = TurnEdge;
    fn next(&mut self) -> Option<TurnEdge> {
        let edge = self.edges.next()?;
        Some(TurnEdge { from: self.from, to: edge.to, ms: u64::from(edge.ms) })
    }
}

impl<'a, 'n> IntoEdgeReferences for &'a RoadGraph<'n> {
    type EdgeRef = TurnEdge;
    type EdgeReferences = AllTurnEdges<'a, 'n>;
    fn edge_references(self) -> Self::EdgeReferences {
        AllTurnEdges { graph: self, next: 0, edges: None }
    }
}

/// Every turn of the graph.
pub struct AllTurnEdges<'a, 'n> {
    graph: &'a RoadGraph<'n>,
    next: u32,
    edges: Option<TurnEdges<'a>>,
}

impl Iterator for AllTurnEdges<'_, '_> {
    type Item = TurnEdge;
    fn next(&mut self) -> Option<TurnEdge> {
        loop {
            if let Some(edge) = self.edges.as_mut().and_then(Iterator::next) {
                return Some(edge);
            }
            if self.next as usize >= self.graph.topology.state_count() {
                return None;
            }
            self.edges = Some(self.graph.edges(Arc(self.next)));
            self.next += 1;
        }
    }
}

impl<'a> IntoEdges for &'a RoadGraph<'_> {
    type Edges = TurnEdges<'a>;
    fn edges(self, arc: Arc) -> TurnEdges<'a> {
        TurnEdges { from: arc, edges: self.onward(arc) }
    }
}
