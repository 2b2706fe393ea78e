//! The printed sheets of one option: a page for the water-supply officer, a card for each tanker driver, each
//! fill site and the dump site. One HTML file without a script, black on white, laid out for paper by its own
//! print style; it reads the answer that `plan -o` wrote and works out nothing new.

mod driver;
pub mod ground;
mod labels;
mod map;
mod marks;
mod officer;
mod read;
mod said;
mod sites;
mod told;
mod turns;
mod words;

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::export::text::short;
use crate::place::Bounds;
use crate::units::Shown;
use ground::Ground;
pub use read::read;
pub use said::Said;
use said::{PlanOption, Tanker};
use words::{Units, name, prose};

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    #[default]
    Letter,
    A4,
}

/// Around the print, in points; most printers need less.
const EDGE_PT: f64 = 36.0;

impl Paper {
    /// Its name in CSS.
    pub fn css(self) -> &'static str {
        match self {
            Paper::Letter => "letter",
            Paper::A4 => "A4",
        }
    }

    /// Width of what is printed, in points: 8.5 in, or 210 mm, less the edges.
    fn wide_pt(self) -> f64 {
        let sheet = match self {
            Paper::Letter => 8.5 * 72.0,
            Paper::A4 => 210.0 / 25.4 * 72.0,
        };
        sheet - 2.0 * EDGE_PT
    }
}

/// How the sheets are wanted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wish {
    pub paper: Paper,
    pub units: Shown,
    /// The best one where none is named.
    pub option: Option<u64>,
}

const STYLE: &str = include_str!("sheet.css");

/// What is on every card.
struct Sheet<'s> {
    said: &'s Said,
    option: &'s PlanOption,
    units: Units,
    paper: Paper,
    ground: Option<&'s Ground>,
}

/// The option that is wanted; `file` is the answer's name for refusals.
fn chosen<'s>(said: &'s Said, wish: &Wish, file: &str) -> Outcome<&'s PlanOption> {
    let refuse =
        |cause: String, action: &str| Err(Refusal::new(Code::InputInvalid, Where::file(file), cause, action));
    let Some(best) = said.options.first() else {
        return refuse(
            "the answer has no option: there is nothing to drive".into(),
            "look at its findings for what stands in the way, and plan again",
        );
    };
    let Some(number) = wish.option else { return Ok(best) };
    match said.options.iter().find(|option| option.dump.option == number) {
        Some(option) => Ok(option),
        None => refuse(
            format!("the answer has no option {number}"),
            "give --option a number from 1 to how many it has",
        ),
    }
}

/// What a map of the option has to show; errors: there is no such option.
pub fn bounds(said: &Said, wish: &Wish, file: &str) -> Outcome<Option<Bounds>> {
    Ok(Bounds::around(map::places(said, chosen(said, wish, file)?)))
}

/// The sheets as one HTML file.
pub fn write(said: &Said, wish: &Wish, ground: Option<&Ground>, file: &str) -> Outcome<String> {
    let option = chosen(said, wish, file)?;
    let sheet = Sheet { said, option, units: Units(wish.units), paper: wish.paper, ground };
    let officer = "Water-supply officer".to_string();
    let mut cards = vec![(officer.clone(), officer::card(&sheet)), (officer, told::card(&sheet))];
    cards.extend(sites::fills(&sheet));
    cards.push(("Dump site".into(), sites::dump(&sheet)));
    for round in &option.rounds {
        let card = |member: usize| {
            (format!("Tanker {}", short(&round.said.crew[member].id)), driver::card(&sheet, round, member))
        };
        cards.extend((0..round.said.crew.len()).map(card));
    }
    let pages: String = cards.iter().enumerate().map(|(i, (foot, _))| page_style(i + 1, foot)).collect();
    let cards: Vec<String> = cards.into_iter().map(|(_, card)| card).collect();
    let title = format!("{}: option {}, sheets", short(&said.about.scenario), option.dump.option);
    Ok(format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" \
         content=\"default-src 'none'; style-src 'unsafe-inline'\">\n<title>{}</title>\n<style>\n@page {{ size: {}; \
         margin: {EDGE_PT}pt {EDGE_PT}pt 42pt; @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); font: 9pt Arial, sans-serif }} }}\n:root {{ --paper: {:.1}pt; }}\n{pages}{STYLE}</style>\n</head>\n<body>\n<main>\n<p class=\"on-screen\">Print this page: each card \
         begins on a new sheet of paper.</p>\n{}</main>\n</body>\n</html>\n",
        prose(&title),
        wish.paper.css(),
        wish.paper.wide_pt(),
        cards.join("\n")
    ))
}

/// Whose card a page is of, at its foot: a card of two pages may come apart. Cards are in the order of these.
fn page_style(number: usize, foot: &str) -> String {
    // As escapes of CSS (Syntax Level 3, 4.3.7): nothing of a name can end a string or the style.
    let text: String =
        format!("{foot} · planning aid").chars().map(|c| format!("\\{:x} ", c as u32)).collect();
    format!(
        "@page card{number} {{ @bottom-left {{ content: \"{text}\"; font: bold 12pt Arial, sans-serif; overflow: hidden }} }}\n\
         .sheet:nth-of-type({number}) {{ page: card{number}; }}\n"
    )
}

impl Sheet<'_> {
    /// Who a card is for, and of what it is; `what` and `big` are HTML.
    fn head(&self, id: &str, role: &str, what: &str, big: &str) -> String {
        let Said { about, incident, .. } = self.said;
        let title = format!("<h2 id=\"{id}\">{what}</h2><p class=\"of\">{} · ", name(&about.scenario));
        self.heading(role, &title, &name(&incident.name), big)
    }

    /// The same of the first page, which is named like the scenario.
    fn first_head(&self, id: &str, role: &str, big: &str) -> String {
        let Said { about, incident, .. } = self.said;
        let title = format!("<h1 id=\"{id}\">{}</h1><p class=\"of\">", name(&about.scenario));
        self.heading(role, &title, &name(&incident.name), big)
    }

    fn heading(&self, role: &str, title: &str, incident: &str, big: &str) -> String {
        let (number, of) = (self.option.dump.option, self.said.options.len());
        format!(
            "<header class=\"head\"><div><p class=\"role\">{role}</p>{title}{incident} · option {number} of {of}</p></div>\
             <div class=\"big\">{big}</div></header>"
        )
    }

    fn tanker(&self, id: &str) -> Option<&Tanker> {
        self.said.about.tankers.iter().find(|tanker| tanker.id == id)
    }

    /// On every card but the officer's, which has all of them.
    fn foot(&self) -> String {
        let caution = |i: usize| self.said.about.cautions.get(i).map(|text| prose(text)).unwrap_or_default();
        format!("<footer class=\"foot\"><p>{} {}</p></footer>", caution(0), caution(3))
    }
}
