//! GPX 1.1 for navigation units: a route a leg, a waypoint a place. Lines and areas that nobody drives have
//! no place in it.

use super::{Document, Feature, Made, Written, text};
use geo::{Geometry, Point};
use gpx::{Gpx, GpxVersion, Metadata, Route, Waypoint};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

pub fn write(document: &Document, path: &Path) -> Made {
    let mut written = Written::default();
    let metadata = Metadata {
        name: Some(text::scenario(document)),
        description: Some(text::notes(document).join("\n")),
        ..Metadata::default()
    };
    let mut file = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("tankerloop {}", env!("CARGO_PKG_VERSION"))),
        metadata: Some(metadata),
        ..Gpx::default()
    };
    for layer in &document.layers {
        let mut held = 0;
        for feature in &layer.features {
            match &feature.shape {
                Geometry::Point(at) => file.waypoints.push(waypoint(&layer.name, feature, *at)),
                Geometry::LineString(line) if layer.name == "leg" => {
                    let turns = [text::property(feature, "directions")];
                    let (name, description) = text::named(&text::title(&layer.name, feature), &turns);
                    file.routes.push(Route {
                        name: Some(name),
                        description,
                        number: u32::try_from(file.routes.len() + 1).ok(),
                        type_: Some(text::plain(&text::property(feature, "leg"))),
                        points: line.points().map(Waypoint::new).collect(),
                        ..Route::default()
                    });
                }
                _ => continue,
            }
            held += 1;
        }
        let tell = |count: usize| (count > 0).then(|| (layer.name.clone(), count));
        written.held.extend(tell(held));
        written.left_out.extend(tell(layer.features.len() - held));
    }
    let mut out = BufWriter::new(File::create(path)?);
    gpx::write(&file, &mut out)?;
    out.flush()?;
    Ok(written)
}

fn waypoint(layer: &str, feature: &Feature, at: Point<f64>) -> Waypoint {
    let further = ["note", "limiter", "cause", "action"].map(|key| text::property(feature, key));
    let (name, description) = text::named(&text::title(layer, feature), &further);
    let mut waypoint = Waypoint::new(at);
    waypoint.name = Some(name);
    waypoint.description = description;
    waypoint.type_ = Some(layer.to_string());
    waypoint
}
