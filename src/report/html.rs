//! The blocks as one web page that needs nothing beside it: no script, no file, no address.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::blocks::{Anchor, Block, Drawing, Ink, Rank, Stroke, Tone};
use super::jpeg::jpeg;
use super::words::Language;
use crate::exports::look_mark;
use crate::maths::markup::escaped;

const STYLE: &str = "\
:root{color-scheme:light}\
body{font:16px/1.45 'Atkinson Hyperlegible','DejaVu Sans',Verdana,sans-serif;color:#141414;background:#fff;\
max-width:60rem;margin:1.5rem auto;padding:0 1rem}\
h1{font-size:1.6rem;margin:0}.aside{color:#505050;margin:.1rem 0 1rem}\
h2{font-size:1.1rem;margin:1.2rem 0 .3rem}h3{font-size:1rem;margin:1.2rem 0 .3rem}\
.lead{font-size:1.15rem}.small{font-size:.85rem;color:#505050}\
dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(15rem,1fr));gap:.4rem 1.2rem;margin:.6rem 0}\
dt{font-size:.8rem;color:#505050}dd{margin:0;overflow-wrap:anywhere}\
.frame{background:#eef2f6;border-left:5px solid #141414;padding:.6rem 1rem;margin:1rem 0}\
.beside{display:flex;gap:1.5rem;flex-wrap:wrap}.beside>div{min-width:17rem}\
table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.2rem .5rem .2rem 0;\
border-bottom:1px solid #c8c8c8;overflow-wrap:anywhere}th{font-size:.85rem;color:#505050}\
figure{margin:.5rem 0}img,svg{max-width:100%;height:auto}figcaption{font-size:.85rem;color:#505050}\
.boxes{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.3rem 1.4rem}\
.line{display:flex;gap:.6rem;align-items:flex-end;margin:.9rem 0}.line i{flex:1;border-bottom:1px solid #141414}\
.together{break-inside:avoid}h2,h3{break-after:avoid}\
@media print{body{margin:0;max-width:none;font-size:10pt}}";

/// The page.
pub(super) fn html(blocks: &[Block], title: &str, language: Language) -> String {
    let mut text = format!(
        "<!DOCTYPE html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src \
         'unsafe-inline'\">\n<title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n",
        escaped(title)
    );
    blocks.iter().for_each(|one| block(&mut text, one));
    text + "</main>\n</body>\n</html>\n"
}

fn block(text: &mut String, block: &Block) {
    let all = |text: &mut String, blocks: &[Block]| blocks.iter().for_each(|one| self::block(text, one));
    match block {
        Block::Title(title, aside) => {
            *text += &format!("<h1>{}</h1>\n<p class=\"aside\">{}</p>\n", escaped(title), escaped(aside));
        }
        Block::Heading(rank, words) => {
            let level = if *rank == Rank::Part { 2 } else { 3 };
            *text += &format!("<h{level}>{}</h{level}>\n", escaped(words));
        }
        Block::Paragraph(tone, words) => {
            let class = match tone {
                Tone::Lead => " class=\"lead\"",
                Tone::Body => "",
                Tone::Small => " class=\"small\"",
            };
            *text += &format!("<p{class}>{}</p>\n", escaped(words));
        }
        Block::Facts(facts) => {
            *text += "<dl>\n";
            for (label, value) in facts {
                *text += &format!("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(label), escaped(value));
            }
            *text += "</dl>\n";
        }
        Block::Bullets(tone, points) => {
            let class = if *tone == Tone::Small { " class=\"small\"" } else { "" };
            list(text, points, class, "");
        }
        Block::Boxes(points) => list(text, points, " class=\"boxes\"", "☐ "),
        Block::Lines(labels) => {
            for label in labels {
                *text += &format!("<div class=\"line\"><span>{}</span><i></i></div>\n", escaped(label));
            }
        }
        Block::Table { head, rows, shares } => {
            *text += "<table>\n<thead><tr>";
            for (label, share) in head.iter().zip(shares) {
                *text += &format!("<th scope=\"col\" style=\"width:{:.0}%\">{}</th>", 100.0 * share, escaped(label));
            }
            *text += "</tr></thead>\n<tbody>\n";
            for row in rows {
                *text += "<tr>";
                for cell in row {
                    let mark = cell.mark.map_or(String::new(), mark);
                    *text += &format!("<td>{mark}{}</td>", escaped(&cell.words));
                }
                *text += "</tr>\n";
            }
            *text += "</tbody>\n</table>\n";
        }
        Block::Picture { picture, alt, caption, .. } => {
            let Some(bytes) = jpeg(picture) else { return };
            let data = STANDARD.encode(bytes);
            *text += &format!("<figure><img src=\"data:image/jpeg;base64,{data}\" alt=\"{}\">", escaped(alt));
            if let Some(caption) = caption {
                *text += &format!("<figcaption>{}</figcaption>", escaped(caption));
            }
            *text += "</figure>\n";
        }
        Block::Drawing { drawing, alt } => {
            *text += &format!("<figure>{}</figure>\n", svg(drawing, alt));
        }
        Block::Frame(blocks) => {
            *text += "<div class=\"frame\">\n";
            all(text, blocks);
            *text += "</div>\n";
        }
        Block::Beside { share, left, right } => {
            *text += "<div class=\"beside\">\n";
            for (part, blocks) in [(*share, left), (1.0 - share, right)] {
                *text += &format!("<div style=\"flex:{part:.2}\">\n");
                all(text, blocks);
                *text += "</div>\n";
            }
            *text += "</div>\n";
        }
        Block::Together(blocks) => {
            *text += "<section class=\"together\">\n";
            all(text, blocks);
            *text += "</section>\n";
        }
    }
}

fn list(text: &mut String, points: &[String], class: &str, before: &str) {
    *text += &format!("<ul{class}>\n");
    points.iter().for_each(|point| *text += &format!("<li>{before}{}</li>\n", escaped(point)));
    *text += "</ul>\n";
}

/// The mark of a look: a short line of its colour and dashes on the grey of a photo.
fn mark(class: &'static str) -> String {
    let mark = look_mark(class);
    let dash: Vec<String> = mark.dash.iter().map(f64::to_string).collect();
    format!(
        "<svg width=\"34\" height=\"12\" aria-hidden=\"true\" style=\"margin-right:.5rem\">\
         <rect width=\"34\" height=\"12\" rx=\"2\" fill=\"{}\"/>\
         <path d=\"M2 6H32\" stroke=\"{}\" stroke-width=\"3\" stroke-dasharray=\"{}\"/></svg>",
        colour(super::blocks::mark_ground(class)),
        colour(mark.rgb),
        dash.join(" ")
    )
}

fn svg(drawing: &Drawing, alt: &str) -> String {
    let mut text = format!(
        "<svg viewBox=\"0 0 {:.1} {:.1}\" width=\"{:.0}\" role=\"img\" aria-label=\"{}\">",
        drawing.width,
        drawing.height,
        1.6 * drawing.width,
        escaped(alt)
    );
    for stroke in &drawing.strokes {
        match stroke {
            Stroke::Line { points, ink, width, dash } => {
                let dash: Vec<String> = dash.iter().map(f64::to_string).collect();
                text += &format!(
                    "<polyline points=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{width}\" \
                     stroke-dasharray=\"{}\"/>",
                    places(points),
                    colour(*ink),
                    dash.join(" ")
                );
            }
            Stroke::Area { points, ink } => {
                text += &format!("<polygon points=\"{}\" fill=\"{}\"/>", places(points), colour(*ink));
            }
            Stroke::Words { at, words, size, ink, anchor } => {
                let anchor = match anchor {
                    Anchor::Start => "start",
                    Anchor::Middle => "middle",
                    Anchor::End => "end",
                };
                text += &format!(
                    "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{size}\" fill=\"{}\" text-anchor=\"{anchor}\">{}</text>",
                    at.x,
                    at.y,
                    colour(*ink),
                    escaped(words)
                );
            }
        }
    }
    text + "</svg>"
}

fn places(points: &[crate::maths::point::Point]) -> String {
    points.iter().map(|point| format!("{:.1},{:.1}", point.x, point.y)).collect::<Vec<_>>().join(" ")
}

fn colour([red, green, blue]: Ink) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

#[cfg(test)]
mod tests {
    use super::{Block, Language, Tone, html};

    #[test]
    fn what_people_write_stays_text() {
        let blocks = [Block::Paragraph(Tone::Body, "<script>alert('Moth & \"Tansy\"')</script>\u{7}".into())];
        let page = html(&blocks, "</title><script>", Language::Spanish);
        assert!(!page.contains("<script"), "{page}");
        assert!(page.contains("&lt;script&gt;alert(&#39;Moth &amp; &quot;Tansy&quot;&#39;)&lt;/script&gt; "));
        assert!(page.contains("<html lang=\"es\">"));
    }

    #[test]
    fn nothing_is_fetched() {
        let page = html(&[], "Moth", Language::English);
        assert!(!page.contains("http:") && !page.contains("https:") && page.contains("default-src 'none'"));
    }
}
