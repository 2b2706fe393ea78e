//! How a GIS draws each layer of a GeoPackage at first: Styled Layer Descriptor 1.0.0 (OGC 02-070) with the page's
//! colours, and each feature's name beside it. Kept in a table `layer_styles`, where general GIS look for styles;
//! to others it is a table like any.

use super::{Document, Layer};
use geo::Geometry;
use rusqlite::{Connection, params};

pub const TABLE: &str = "layer_styles";

/// What is drawn: a line, area or mark of one colour. The colours are those of src/web/page/palette.ts.
struct Symbol {
    colour: &'static str,
    width: f64,
    dash: &'static str,
}

/// Features drawn alike.
struct Rule {
    title: &'static str,
    /// A property and the least and, exclusive, the greatest it may be; or the text that it is.
    only: Only,
    symbol: Symbol,
}

enum Only {
    All,
    Is(&'static str, &'static str),
    Within(&'static str, f64, f64),
}

const fn symbol(colour: &'static str, width: f64, dash: &'static str) -> Symbol {
    Symbol { colour, width, dash }
}

fn rules(layer: &str) -> Vec<Rule> {
    let all = |title, colour, width, dash| {
        vec![Rule { title, only: Only::All, symbol: symbol(colour, width, dash) }]
    };
    match layer {
        "incident" => all("Incident", "#9c1c30", 12.0, ""),
        "fill_site" => all("Fill site", "#0b5fb3", 10.0, ""),
        "dump_site" => all("Dump site", "#9a3700", 10.0, ""),
        "staging" => all("Staging", "#4d5965", 8.0, ""),
        "supply_line" => all("Supply line", "#5d2a87", 2.5, "2 2"),
        "loop" => all("Loop", "#4d5965", 1.0, ""),
        "road_note" => all("Road note", "#6b4100", 7.0, ""),
        "gap" => all("Gap", "#9c1c30", 1.5, "6 3"),
        "proposal" => all("Proposed fill site", "#17653a", 10.0, ""),
        "leg" => [("Loaded", "loaded", "#9a3700", ""), ("Empty", "empty", "#0b5fb3", "6 4")]
            .map(|(title, leg, colour, dash)| Rule {
                title,
                only: Only::Is("leg", leg),
                symbol: symbol(colour, 3.0, dash),
            })
            .into(),
        // Classes, widths and dashes as src/web/page/zoneviews.ts has them.
        "stretch" => [
            ("Below 250 gpm", f64::NEG_INFINITY, 250.0, "#701018", 5.0, "6 3.5"),
            ("250 to 500 gpm", 250.0, 500.0, "#b8520f", 4.0, "12 3.2"),
            ("500 to 750 gpm", 500.0, 750.0, "#74786c", 2.6, ""),
            ("750 to 1,000 gpm", 750.0, 1_000.0, "#1c7ac6", 4.4, ""),
            ("1,000 gpm and more", 1_000.0, f64::INFINITY, "#141f6a", 7.0, ""),
        ]
        .map(|(title, low, high, colour, width, dash)| Rule {
            title,
            only: Only::Within("ceiling_gpm", low, high),
            symbol: symbol(colour, width, dash),
        })
        .into(),
        _ => all("Feature", "#18222d", 2.0, ""),
    }
}

/// The property that names a feature on the map.
fn label(layer: &str) -> Option<&'static str> {
    match layer {
        "incident" | "fill_site" | "proposal" => Some("name"),
        "dump_site" | "staging" | "stretch" => Some("road"),
        "leg" => Some("leg"),
        "road_note" => Some("code"),
        "gap" => Some("gap"),
        _ => None,
    }
}

fn condition(only: &Only) -> String {
    let compare = |how: &str, key: &str, value: &str| {
        format!(
            "<ogc:{how}><ogc:PropertyName>{key}</ogc:PropertyName><ogc:Literal>{value}</ogc:Literal></ogc:{how}>"
        )
    };
    let within = |how: &str, key: &str, value: f64| {
        if value.is_finite() { compare(how, key, &value.to_string()) } else { String::new() }
    };
    match only {
        Only::All => String::new(),
        Only::Is(key, text) => {
            format!("<ogc:Filter>{}</ogc:Filter>", compare("PropertyIsEqualTo", key, text))
        }
        Only::Within(key, low, high) => {
            let low_part = within("PropertyIsGreaterThanOrEqualTo", key, *low);
            let high_part = within("PropertyIsLessThan", key, *high);
            let both = low.is_finite() && high.is_finite();
            let (open, close) = if both { ("<ogc:And>", "</ogc:And>") } else { ("", "") };
            format!("<ogc:Filter>{open}{low_part}{high_part}{close}</ogc:Filter>")
        }
    }
}

fn drawn(symbol: &Symbol, layer: &Layer) -> String {
    let Symbol { colour, width, dash } = symbol;
    let parameter = |name: &str, value: &str| format!("<CssParameter name=\"{name}\">{value}</CssParameter>");
    let dashes = if dash.is_empty() { String::new() } else { parameter("stroke-dasharray", dash) };
    let stroke = |width: f64| {
        let (colour, width) = (parameter("stroke", colour), parameter("stroke-width", &width.to_string()));
        format!("<Stroke>{colour}{width}{dashes}</Stroke>")
    };
    match layer.features.first().map(|feature| &feature.shape) {
        Some(Geometry::Point(_) | Geometry::MultiPoint(_)) => format!(
            "<PointSymbolizer><Graphic><Mark><WellKnownName>circle</WellKnownName><Fill>{}</Fill><Stroke>{}</Stroke></Mark><Size>{width}</Size></Graphic></PointSymbolizer>",
            parameter("fill", colour),
            parameter("stroke", "#ffffff"),
        ),
        Some(Geometry::Polygon(_) | Geometry::MultiPolygon(_)) => format!(
            "<PolygonSymbolizer><Fill>{}{}</Fill>{}</PolygonSymbolizer>",
            parameter("fill", colour),
            parameter("fill-opacity", "0.15"),
            stroke(*width),
        ),
        _ => format!("<LineSymbolizer>{}</LineSymbolizer>", stroke(*width)),
    }
}

/// The style of a layer.
fn descriptor(layer: &Layer) -> String {
    let named = label(&layer.name).filter(|key| layer.columns.iter().any(|column| column.name == *key));
    let text = named.map_or(String::new(), |key| {
        format!(
            "<TextSymbolizer><Label><ogc:PropertyName>{key}</ogc:PropertyName></Label><Halo><Radius>1.5</Radius><Fill><CssParameter name=\"fill\">#ffffff</CssParameter></Fill></Halo><Fill><CssParameter name=\"fill\">#18222d</CssParameter></Fill></TextSymbolizer>"
        )
    });
    let rule = |rule: &Rule| {
        let Rule { title, only, symbol } = rule;
        format!("<Rule><Title>{title}</Title>{}{}{text}</Rule>", condition(only), drawn(symbol, layer))
    };
    let rules: String = rules(&layer.name).iter().map(rule).collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><StyledLayerDescriptor version=\"1.0.0\" xmlns=\"http://www.opengis.net/sld\" xmlns:ogc=\"http://www.opengis.net/ogc\"><NamedLayer><Name>{name}</Name><UserStyle><Name>{name}</Name><FeatureTypeStyle>{rules}</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>",
        name = layer.name,
    )
}

/// Writes the styles of all layers.
pub fn write(to: &Connection, document: &Document, geometry: &str) -> rusqlite::Result<()> {
    to.execute_batch(&format!(
        "CREATE TABLE {TABLE} (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT,
           f_table_schema TEXT, f_table_name TEXT, f_geometry_column TEXT, styleName TEXT, styleQML TEXT,
           styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT, ui TEXT, update_time DATETIME);
         INSERT INTO gpkg_contents (table_name, data_type, identifier, description)
         VALUES ('{TABLE}', 'attributes', '{TABLE}', 'how each layer is drawn at first (SLD 1.0.0)')"
    ))?;
    let mut insert = to.prepare(&format!(
        "INSERT INTO {TABLE} (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleSLD,
           useAsDefault) VALUES ('', '', ?1, ?2, ?3, ?4, 1)"
    ))?;
    for layer in &document.layers {
        insert.execute(params![layer.name, geometry, layer.name.replace('_', " "), descriptor(layer)])?;
    }
    Ok(())
}
