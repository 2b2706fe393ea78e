//! KML 2.2 (OGC 07-147r2): a folder a layer. Names from files stand in it as text only: earth browsers take
//! a description for HTML, so it is escaped once for HTML and once more for XML.
//! Written by quick-xml: crate `kml` 0.15 puts all holes of an area into one `innerBoundaryIs`, which holds one.

use super::{Document, Feature, Layer, Made, Written, text};
use geo::{Geometry, LineString, Polygon};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// Style, colour as alpha, blue, green, red, and width in pixels: the colours of the page (palette.ts).
const STYLES: [(&str, &str, &str); 3] =
    [("loaded", "ff00379a", "5"), ("empty", "ffb35f0b", "3"), ("supply_line", "ff872a5d", "4")];

type Xml = Writer<BufWriter<File>>;

pub fn write(document: &Document, path: &Path) -> Made {
    let mut xml = Writer::new(BufWriter::new(File::create(path)?));
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    xml.create_element("kml")
        .with_attribute(("xmlns", "http://www.opengis.net/kml/2.2"))
        .write_inner_content(|xml| {
            xml.create_element("Document").write_inner_content(|xml| {
                leaf(xml, "name", &name(&text::scenario(document)))?;
                let notes: Vec<String> = text::notes(document).iter().map(|note| text::html(note)).collect();
                leaf(xml, "description", &notes.join("<br/>"))?;
                STYLES.iter().try_for_each(|style| line_style(xml, style))?;
                document.layers.iter().try_for_each(|layer| folder(xml, layer))
            })?;
            Ok(())
        })?;
    xml.into_inner().flush()?;
    Ok(Written::all(document))
}

fn leaf(xml: &mut Xml, tag: &str, text: &str) -> io::Result<()> {
    xml.create_element(tag).write_text_content(BytesText::new(text))?;
    Ok(())
}

/// Some programs put a name into a balloon as HTML; without angle brackets it is text there too.
fn name(text: &str) -> String {
    text::short(text).replace('<', "‹").replace('>', "›")
}

fn line_style(xml: &mut Xml, (id, colour, width): &(&str, &str, &str)) -> io::Result<()> {
    xml.create_element("Style").with_attribute(("id", *id)).write_inner_content(|xml| {
        xml.create_element("LineStyle").write_inner_content(|xml| {
            leaf(xml, "color", colour)?;
            leaf(xml, "width", width)
        })?;
        Ok(())
    })?;
    Ok(())
}

fn folder(xml: &mut Xml, layer: &Layer) -> io::Result<()> {
    xml.create_element("Folder").write_inner_content(|xml| {
        leaf(xml, "name", &layer.name)?;
        layer.features.iter().try_for_each(|feature| placemark(xml, layer, feature))
    })?;
    Ok(())
}

fn placemark(xml: &mut Xml, layer: &Layer, feature: &Feature) -> io::Result<()> {
    xml.create_element("Placemark").write_inner_content(|xml| {
        leaf(xml, "name", &name(&text::title(&layer.name, feature)))?;
        leaf(xml, "description", &description(feature))?;
        let leg = text::property(feature, "leg");
        let style = if layer.name == "leg" { leg.as_str() } else { layer.name.as_str() };
        if STYLES.iter().any(|(id, ..)| *id == style) {
            leaf(xml, "styleUrl", &format!("#{style}"))?;
        }
        shape(xml, &feature.shape)
    })?;
    Ok(())
}

/// All properties but lists, a line each, as HTML.
fn description(feature: &Feature) -> String {
    let plain = feature.properties.iter().filter(|(_, value)| !value.is_array() && !value.is_object());
    let lines = plain.filter_map(|(key, value)| Some(format!("{key}: {}", text::html(&text::of(value)?))));
    lines.collect::<Vec<_>>().join("<br/>")
}

fn shape(xml: &mut Xml, geometry: &Geometry<f64>) -> io::Result<()> {
    match geometry {
        Geometry::Point(at) => {
            xml.create_element("Point")
                .write_inner_content(|xml| leaf(xml, "coordinates", &format!("{},{}", at.x(), at.y())))?;
        }
        Geometry::LineString(line) => line_string(xml, line)?,
        Geometry::MultiLineString(lines) => {
            xml.create_element("MultiGeometry")
                .write_inner_content(|xml| lines.iter().try_for_each(|line| line_string(xml, line)))?;
        }
        Geometry::Polygon(area) => polygon(xml, area)?,
        Geometry::MultiPolygon(areas) => {
            xml.create_element("MultiGeometry")
                .write_inner_content(|xml| areas.iter().try_for_each(|area| polygon(xml, area)))?;
        }
        other => {
            let told = format!("a shape that this tool does not write: {other:?}");
            return Err(io::Error::new(io::ErrorKind::InvalidData, text::short(&told)));
        }
    }
    Ok(())
}

fn line_string(xml: &mut Xml, line: &LineString<f64>) -> io::Result<()> {
    xml.create_element("LineString").write_inner_content(|xml| {
        leaf(xml, "tessellate", "1")?;
        leaf(xml, "coordinates", &coordinates(line))
    })?;
    Ok(())
}

fn polygon(xml: &mut Xml, area: &Polygon<f64>) -> io::Result<()> {
    let ring = |xml: &mut Xml, boundary: &str, line: &LineString<f64>| -> io::Result<()> {
        xml.create_element(boundary).write_inner_content(|xml| {
            xml.create_element("LinearRing")
                .write_inner_content(|xml| leaf(xml, "coordinates", &coordinates(line)))?;
            Ok(())
        })?;
        Ok(())
    };
    xml.create_element("Polygon").write_inner_content(|xml| {
        ring(xml, "outerBoundaryIs", area.exterior())?;
        area.interiors().iter().try_for_each(|hole| ring(xml, "innerBoundaryIs", hole))
    })?;
    Ok(())
}

fn coordinates(line: &LineString<f64>) -> String {
    let mut text = String::with_capacity(line.0.len() * 24);
    for (i, at) in line.0.iter().enumerate() {
        let gap = if i > 0 { " " } else { "" };
        // Writing to a String cannot fail.
        let _ = write!(text, "{gap}{},{}", at.x, at.y);
    }
    text
}
