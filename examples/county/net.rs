//! Roads laid step by step on the fine grid. Two roads meet wherever they step on the same grid
//! point, so junctions come for free and no geometry has to be intersected to find them.

use super::pbf::{MemberType, Tags};
use super::plane::{Point, bend, crossing, inside};
use std::collections::{BTreeMap, BTreeSet};

/// Grid column, grid row, level. Level 1 passes over level 0 without meeting it.
pub type Key = (i32, i32, i32);

pub struct Node {
    pub key: Key,
    pub at: Point,
    pub tags: Tags,
    pub edges: Vec<usize>,
}

pub struct Road {
    pub class: &'static str,
    pub name: Option<String>,
    /// All but `highway` and `name`.
    pub tags: Tags,
    /// Kept although nothing leads there.
    pub island: bool,
}

pub struct Edge {
    pub a: usize,
    pub b: usize,
    pub road: usize,
    /// What this stretch has beyond its road's tags.
    pub tags: Tags,
    pub gone: bool,
}

/// A turn restriction between edges; via way where `via_edge` is given.
pub struct Restriction {
    pub kind: &'static str,
    pub from: usize,
    pub via_node: usize,
    pub via_edge: Option<usize>,
    pub to: usize,
}

/// Anything that is not a road: points and lines with tags.
pub struct Drawing {
    pub points: Vec<Point>,
    pub closed: bool,
    pub tags: Tags,
}

#[derive(Default)]
pub struct Net {
    pub nodes: Vec<Node>,
    pub roads: Vec<Road>,
    pub edges: Vec<Edge>,
    index: BTreeMap<Key, usize>,
    /// Ways break here, because a restriction refers to their ends.
    pub split: BTreeSet<usize>,
    /// Ways that end here go on outside of the extract.
    pub leaving: BTreeSet<usize>,
    pub restrictions: Vec<Restriction>,
    pub drawings: Vec<Drawing>,
    /// (outer, inner, tags) over drawings.
    pub multipolygons: Vec<(usize, usize, Tags)>,
}

pub fn tags(list: &[(&str, &str)]) -> Tags {
    list.iter().map(|(key, value)| (key.to_string(), value.to_string())).collect()
}

pub fn rank(class: &str) -> usize {
    const ORDER: [&str; 8] =
        ["trunk", "primary", "secondary", "tertiary", "unclassified", "residential", "service", "track"];
    ORDER.iter().position(|c| *c == class).unwrap_or(ORDER.len())
}

/// A grid point of a line, and where the line exactly runs there.
pub type Step = ((i32, i32), (f64, f64));

/// Grid points along straight pieces between waypoints.
pub fn trace(waypoints: &[(i32, i32)]) -> Vec<Step> {
    let exact = |p: (i32, i32)| (f64::from(p.0), f64::from(p.1));
    let mut line = vec![(waypoints[0], exact(waypoints[0]))];
    for pair in waypoints.windows(2) {
        let ((u0, v0), (u1, v1)) = (exact(pair[0]), exact(pair[1]));
        let steps = (pair[1].0 - pair[0].0).abs().max((pair[1].1 - pair[0].1).abs());
        for step in 1..=steps {
            let share = f64::from(step) / f64::from(steps);
            let (u, v) = (u0 + (u1 - u0) * share, v0 + (v1 - v0) * share);
            line.push(((u.round() as i32, v.round() as i32), (u, v)));
        }
    }
    line
}

impl Net {
    pub fn road(&mut self, class: &'static str, name: Option<String>, list: &[(&str, &str)]) -> usize {
        self.roads.push(Road { class, name, tags: tags(list), island: false });
        self.roads.len() - 1
    }

    pub fn at(&self, key: Key) -> Option<usize> {
        self.index.get(&key).copied()
    }

    /// The node at a grid point that the plan of the county relies on.
    pub fn must(&self, u: i32, v: i32) -> usize {
        self.at((u, v, 0)).unwrap_or_else(|| panic!("no road was laid at {u}, {v}"))
    }

    fn node(&mut self, key: Key, exact: (f64, f64)) -> usize {
        if let Some(&node) = self.index.get(&key) {
            return node;
        }
        let node = Node { key, at: bend(exact.0, exact.1), tags: Vec::new(), edges: Vec::new() };
        self.nodes.push(node);
        self.index.insert(key, self.nodes.len() - 1);
        self.nodes.len() - 1
    }

    pub fn edge_between(&self, a: usize, b: usize) -> Option<usize> {
        let of = |e: &&usize| self.edges[**e].a == b || self.edges[**e].b == b;
        self.nodes[a].edges.iter().find(of).copied()
    }

    pub fn must_edge(&self, a: (i32, i32), b: (i32, i32)) -> usize {
        let edge = self.edge_between(self.must(a.0, a.1), self.must(b.0, b.1));
        edge.unwrap_or_else(|| panic!("no edge between {a:?} and {b:?}"))
    }

    fn join(&mut self, a: usize, b: usize, road: usize) {
        if a == b || self.edge_between(a, b).is_some() {
            return;
        }
        self.edges.push(Edge { a, b, road, tags: Vec::new(), gone: false });
        self.nodes[a].edges.push(self.edges.len() - 1);
        self.nodes[b].edges.push(self.edges.len() - 1);
    }

    /// Lays a road along waypoints. Where another road runs there already, that one stays.
    pub fn lay(&mut self, road: usize, waypoints: &[(i32, i32)]) {
        self.lay_line(road, &trace(waypoints), &|_| 0);
    }

    pub fn lay_line(&mut self, road: usize, line: &[Step], level: &dyn Fn((i32, i32)) -> i32) {
        let mut last: Option<usize> = None;
        for &(point, exact) in line {
            let key = (point.0, point.1, level(point));
            if let Some(from) = last {
                // Two diagonal steps can cross between grid points: step round the corner, onto
                // the other road, so that they meet.
                let (u, v, _) = self.nodes[from].key;
                let corner = (self.at((point.0, v, key.2)), self.at((u, point.1, key.2)));
                if let (Some(p), Some(q)) = corner
                    && u != point.0
                    && v != point.1
                    && self.edge_between(p, q).is_some()
                {
                    self.join(from, p, road);
                    last = Some(p);
                }
            }
            let node = self.node(key, exact);
            if let Some(from) = last {
                self.join(from, node, road);
            }
            last = Some(node);
        }
    }

    /// Lays a road from its first waypoint until it meets another. Lays nothing where it meets none.
    pub fn lay_until_met(&mut self, road: usize, waypoints: &[(i32, i32)]) -> bool {
        let line = trace(waypoints);
        let met = line.iter().skip(1).position(|((u, v), _)| self.index.contains_key(&(*u, *v, 0)));
        if let Some(end) = met {
            self.lay_line(road, &line[..end + 2], &|_| 0);
        }
        met.is_some()
    }

    /// No road within so many steps.
    pub fn free(&self, point: (i32, i32), steps: i32) -> bool {
        let near = |dv: i32| (point.0 - steps, point.1 + dv, 0)..=(point.0 + steps, point.1 + dv, 1);
        (-steps..=steps).all(|dv| self.index.range(near(dv)).all(|(key, _)| (key.1 - point.1).abs() > steps))
    }

    pub fn alive(&self, node: usize) -> Vec<usize> {
        self.nodes[node].edges.iter().copied().filter(|e| !self.edges[*e].gone).collect()
    }

    pub fn other(&self, edge: usize, node: usize) -> usize {
        let e = &self.edges[edge];
        if e.a == node { e.b } else { e.a }
    }

    /// Rounds corners and evens out what the bending left. At a junction the road of the best
    /// class goes through smoothly and the others follow.
    pub fn smooth(&mut self, rounds: usize) {
        let ends: Vec<Option<(usize, usize)>> = (0..self.nodes.len())
            .map(|node| {
                let mut edges = self.alive(node);
                edges.sort_by_key(|e| (rank(self.roads[self.edges[*e].road].class), self.edges[*e].road, *e));
                let through = edges.len() == 2
                    || edges.len() > 2 && self.edges[edges[0]].road == self.edges[edges[1]].road;
                through.then(|| (self.other(edges[0], node), self.other(edges[1], node)))
            })
            .collect();
        for _ in 0..rounds {
            let before: Vec<Point> = self.nodes.iter().map(|n| n.at).collect();
            for (node, ends) in self.nodes.iter_mut().zip(&ends) {
                if let Some((a, b)) = *ends {
                    node.at = node.at.mix(before[a].mix(before[b], 0.5), 0.5);
                }
            }
        }
    }

    /// Takes an edge away with all that leads only to it: up to the next junction both ways.
    pub fn remove_stretch(&mut self, edge: usize) {
        let mut open = vec![edge];
        while let Some(edge) = open.pop() {
            if std::mem::replace(&mut self.edges[edge].gone, true) {
                continue;
            }
            for node in [self.edges[edge].a, self.edges[edge].b] {
                // One edge left where there were two: the middle of a stretch.
                if let [next] = self.alive(node)[..] {
                    open.push(next);
                }
            }
        }
    }

    /// Edges that cross a line, in order.
    pub fn crossing_edges(&self, line: &[Point]) -> Vec<usize> {
        let boxed = |a: Point, b: Point| (a.x.min(b.x), a.x.max(b.x), a.y.min(b.y), a.y.max(b.y));
        let crosses = |edge: &Edge| {
            let (a, b) = (self.nodes[edge.a].at, self.nodes[edge.b].at);
            let e = boxed(a, b);
            line.windows(2).any(|pair| {
                let p = boxed(pair[0], pair[1]);
                e.0 <= p.1
                    && p.0 <= e.1
                    && e.2 <= p.3
                    && p.2 <= e.3
                    && crossing((a, b), (pair[0], pair[1])).is_some()
            })
        };
        (0..self.edges.len()).filter(|e| !self.edges[*e].gone && crosses(&self.edges[*e])).collect()
    }

    pub fn edges_inside(&self, ring: &[Point]) -> Vec<usize> {
        let wet = |edge: &Edge| inside(ring, self.nodes[edge.a].at) || inside(ring, self.nodes[edge.b].at);
        (0..self.edges.len()).filter(|e| !self.edges[*e].gone && wet(&self.edges[*e])).collect()
    }

    /// Removes whatever cannot be reached from the largest connected part, islands on purpose apart.
    pub fn keep_main_part(&mut self) {
        let mut part = vec![usize::MAX; self.nodes.len()];
        let mut sizes = Vec::new();
        for start in 0..self.nodes.len() {
            if part[start] != usize::MAX {
                continue;
            }
            let id = sizes.len();
            sizes.push(0usize);
            part[start] = id;
            let mut open = vec![start];
            while let Some(node) = open.pop() {
                sizes[id] += 1;
                for edge in self.alive(node) {
                    let next = self.other(edge, node);
                    if part[next] == usize::MAX {
                        part[next] = id;
                        open.push(next);
                    }
                }
            }
        }
        let main = sizes.iter().enumerate().max_by_key(|(_, size)| **size).map_or(0, |(id, _)| id);
        for edge in &mut self.edges {
            edge.gone |= part[edge.a] != main && !self.roads[edge.road].island;
        }
    }

    /// The living edge nearest to a point among those that pass a test.
    pub fn nearest_edge(&self, at: Point, fits: impl Fn(&Edge) -> bool) -> Option<usize> {
        let far = |e: &usize| {
            let edge = &self.edges[*e];
            self.nodes[edge.a].at.mix(self.nodes[edge.b].at, 0.5).distance(at)
        };
        (0..self.edges.len())
            .filter(|e| !self.edges[*e].gone && fits(&self.edges[*e]))
            .min_by(|a, b| far(a).total_cmp(&far(b)))
    }

    pub fn point(&mut self, at: Point, list: &[(&str, &str)]) {
        self.drawings.push(Drawing { points: vec![at], closed: false, tags: tags(list) });
    }

    pub fn ring(&mut self, points: Vec<Point>, list: &[(&str, &str)]) -> usize {
        self.drawings.push(Drawing { points, closed: true, tags: tags(list) });
        self.drawings.len() - 1
    }
}

/// Role and kind of a restriction's via member.
pub fn via_kind(restriction: &Restriction) -> MemberType {
    if restriction.via_edge.is_some() { MemberType::Way } else { MemberType::Node }
}
