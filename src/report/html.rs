//! A report as one HTML file that needs nothing else: no script, no network, light and dark, for the
//! screen and for paper of either size.
//!
//! Owns the elements and their style. Refuses words and numbers: the pages have them.

use std::fmt::Write;

use super::document::{DEMO_WORDS, Document};
use super::page::{Block, Page, Table, Tick, TimeBar};
use super::safe_text::escaped;
use super::svg::{style, svg};
use super::words::bar_words;

/// What a browser may load: nothing.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";
const STYLE: &str = "\
body{margin:0 auto;max-width:52rem;padding:1.5rem;background:var(--ground);color:var(--text);\
font:16px/1.5 system-ui,sans-serif}\
h1{font-size:1.7rem;margin:0}h2{font-size:1.35rem;margin:2.5rem 0 .5rem;\
border-top:2px solid var(--line);padding-top:1rem}h3{font-size:1.1rem;margin:1.5rem 0 .3rem}\
.headline{font-size:1.15rem;font-weight:600}.note,.about{color:var(--muted)}\
.caution{border-left:4px solid var(--risk);padding-left:.8rem}\
.demo{background:var(--risk);color:var(--ground);font-weight:700;padding:.3rem .8rem}\
figure{margin:1rem 0}figcaption{color:var(--muted)}svg{width:100%;height:auto;display:block}\
.scroll{overflow-x:auto}table{border-collapse:collapse;margin:1rem 0;font-size:.9em}\
caption{text-align:left;font-weight:600;padding-bottom:.3rem}\
th,td{padding:.2rem .5rem;text-align:right;vertical-align:top;border-bottom:1px solid var(--line);\
font-weight:400;font-variant-numeric:tabular-nums}td:not(:last-child){white-space:nowrap}\
td.words,th:first-child{text-align:left}th:first-child{min-width:11ch}thead th{font-weight:600;vertical-align:bottom}\
@media screen and (max-width:40rem){td:last-child{min-width:16ch}.plot{font-size:17px}}\
table.paper{font-family:ui-monospace,monospace}ul.ticks{list-style:none;padding-left:0}\
@page{margin:14mm}\
@media print{body{max-width:none;padding:0;font-size:10.5pt}\
h2,h3,.headline,caption,p:has(+figure){break-after:avoid}\
figure,tr,li,.scroll:not(:has(tbody tr:nth-child(21))){break-inside:avoid}\
.scroll{overflow:visible}thead{display:table-header-group}\
.demo{background:none;color:var(--risk);border:2px solid}figure svg{max-width:150mm}}";

/// The file.
pub fn html(document: &Document) -> String {
    let title = escaped(&document.title);
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\
         <link rel=\"icon\" href=\"data:,\"><title>{title}</title><style>{}{STYLE}</style></head>\n\
         <body><header>",
        style()
    );
    if document.demo {
        let _ = write!(out, "<p class=\"demo\">{DEMO_WORDS}</p>");
    }
    let _ = write!(out, "<h1>{title}</h1>");
    for line in &document.about {
        let _ = write!(out, "<p class=\"about\">{}</p>", escaped(line));
    }
    out.push_str("</header>\n<main>");
    for (place, (name, page)) in document.pages.iter().enumerate() {
        section(&mut out, place, name, page);
    }
    out.push_str("</main></body></html>\n");
    out
}

fn section(out: &mut String, place: usize, name: &str, page: &Page) {
    let _ = write!(
        out,
        "\n<section><h2>{}</h2><p class=\"headline\">{}</p>",
        escaped(name),
        escaped(&page.headline)
    );
    for (i, block) in page.blocks.iter().enumerate() {
        let id = format!("p{place}b{i}");
        let _ = match block {
            Block::Heading(text) => write!(out, "<h3>{}</h3>", escaped(text)),
            Block::Text(text) => write!(out, "<p>{}</p>", escaped(text)),
            Block::Note(text) => write!(out, "<p class=\"note\">{}</p>", escaped(text)),
            Block::Caution(text) => write!(out, "<p class=\"caution\">{}</p>", escaped(text)),
            Block::Points(points) => {
                let items = points.iter().map(|point| format!("<li>{}</li>", escaped(point)));
                write!(out, "<ul>{}</ul>", items.collect::<String>())
            }
            Block::Table(table) => write!(out, "{}", table_html(table, "")),
            Block::Paper(table) => write!(out, "{}", table_html(table, " class=\"paper\"")),
            Block::Plot(plot) => write!(
                out,
                "<figure>{}<figcaption>{}</figcaption></figure>",
                svg(plot, &id),
                escaped(&plot.title)
            ),
            Block::TimeBar(bar) => write!(out, "{}", bar_html(bar, &id)),
            Block::Ticks(ticks) => {
                let item = |tick: &Tick| {
                    let mark = if tick.done { "\u{2611}" } else { "\u{2610}" };
                    format!("<li>{mark} {}</li>", escaped(&tick.text))
                };
                let items: String = ticks.iter().map(item).collect();
                write!(out, "<ul class=\"ticks\">{items}</ul>")
            }
        };
    }
    out.push_str("</section>");
}

fn table_html(table: &Table, class: &str) -> String {
    let heads = table.columns.iter().map(|head| match head.as_str() {
        "" => "<td></td>".to_owned(),
        head => format!("<th scope=\"col\">{}</th>", escaped(head)),
    });
    let row = |cells: &Vec<String>| {
        let cells = cells.iter().enumerate().map(|(i, cell)| match i {
            0 => format!("<th scope=\"row\">{}</th>", escaped(cell)),
            i if table.reads_from_left(i) => format!("<td class=\"words\">{}</td>", escaped(cell)),
            _ => format!("<td>{}</td>", escaped(cell)),
        });
        format!("<tr>{}</tr>", cells.collect::<String>())
    };
    let title = escaped(&table.title);
    let (caption, label) = match title.as_str() {
        "" => (String::new(), "Table"),
        title => (format!("<caption>{title}</caption>"), title),
    };
    // What is wider than a phone is scrolled, by keys as well.
    format!(
        "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"{label}\">\
         <table{class}>{caption}<thead><tr>{}</tr></thead><tbody>{}</tbody></table></div>",
        heads.collect::<String>(),
        table.rows.iter().map(row).collect::<String>()
    )
}

/// Driver part and car part end to end, the interval below.
fn bar_html(bar: &TimeBar, id: &str) -> String {
    let longest = (bar.driver_s + bar.car_s).max(bar.interval_s).max(1e-3);
    let width = |seconds: f64| 700.0 * (seconds.max(0.0) / longest);
    let (driver, car) = (width(bar.driver_s), width(bar.car_s));
    let words = escaped(&bar_words(bar));
    format!(
        "<figure class=\"bar\"><svg class=\"plot\" xmlns=\"http://www.w3.org/2000/svg\" \
         viewBox=\"0 0 720 44\" role=\"img\" aria-labelledby=\"{id}-title\">\
         <title id=\"{id}-title\">{words}</title>\
         <rect class=\"f-driver\" x=\"10\" y=\"6\" width=\"{driver:.1}\" height=\"18\"/>\
         <rect class=\"f-car\" x=\"{:.1}\" y=\"6\" width=\"{car:.1}\" height=\"18\"/>\
         <rect class=\"f-muted\" x=\"10\" y=\"30\" width=\"{:.1}\" height=\"6\"/></svg>\
         <figcaption>{words}</figcaption></figure>",
        10.0 + driver,
        width(bar.interval_s)
    )
}

#[cfg(test)]
mod tests {
    use super::super::page::{Axis, Form, Hue, LayerKind, Plot};
    use super::*;

    fn document(name: &str) -> Document {
        let mut page = Page::new(format!("All of {name}."));
        let mut table = Table::new("Runs", &["", "n"]);
        table.push([name, "3"]);
        let axis = || Axis::new(name, Form::Millis);
        let line = LayerKind::Line(vec![[0.0, 0.1], [0.2, 0.3]]);
        page.heading(name).text(name).note(name).caution(name);
        page.push(Block::Points(vec![name.to_owned()]));
        page.push(Block::Table(table.clone())).push(Block::Paper(table));
        page.push(Block::Plot(Plot::new(name, axis(), axis()).with(name, Hue::Driver, line)));
        page.push(Block::TimeBar(TimeBar { driver_s: 0.2, car_s: 0.35, interval_s: 0.5 }));
        let tick = Tick { key: "a".to_owned(), text: name.to_owned(), done: true };
        page.push(Block::Ticks(vec![tick]));
        let pages = vec![(name.to_owned(), page)];
        Document { title: name.to_owned(), about: vec![name.to_owned()], demo: true, pages }
    }

    #[test]
    fn every_element_that_is_opened_is_closed() {
        let text = html(&document("Mine"));
        for name in [
            "html", "head", "body", "main", "section", "h1", "h2", "h3", "figure", "table", "ul",
            "svg",
        ] {
            let opened = text.matches(&format!("<{name}>")).count()
                + text.matches(&format!("<{name} ")).count();
            assert_eq!(opened, text.matches(&format!("</{name}>")).count(), "{name}");
            assert!(opened > 0, "{name}");
        }
        assert!(text.contains(DEMO_WORDS));
    }

    #[test]
    fn a_hostile_name_stays_text_and_nothing_is_fetched() {
        let text = html(&document("<img src=x onerror=alert(1)>\"'&"));
        assert!(!text.contains("<img"), "{text}");
        for word in ["<script", "http://", "https://", "url(http", "@import", "src="] {
            let allowed = text.matches("http://www.w3.org/2000/svg").count();
            let found = text.matches(word).count();
            let wanted = match word {
                "http://" => allowed,
                "src=" => text.matches("&lt;img src=x").count(),
                _ => 0,
            };
            assert_eq!(found, wanted, "{word}");
        }
    }

    #[test]
    fn it_prints_on_either_paper_and_reads_in_the_dark() {
        let text = html(&Document::default());
        for word in ["@page", "@media print", "prefers-color-scheme:dark", "lang=\"en\""] {
            assert!(text.contains(word), "{word}");
        }
        // No size of paper is asked for, so both fit.
        assert_eq!(text.matches("@page").count(), 1);
        assert!(text.contains("@page{margin:14mm}"));
    }
}
