//! Text on its way into a page, a picture or a terminal.
//!
//! Owns what is escaped and what is replaced: names are typed by people and come out of files. Refuses
//! to shorten anything.

/// Text without what steers a terminal or turns the direction of what follows.
pub fn tame(text: &str) -> String {
    let wild = |c: char| {
        (c.is_control() && c != '\n')
            // Every character of Unicode's property Bidi_Control (UAX #9), and those that are no characters.
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}')
            || matches!(c, '\u{2066}'..='\u{2069}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}')
    };
    text.chars().map(|c| if wild(c) { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

/// The same for the text of HTML and SVG and for attributes in quotes.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in tame(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hostile_name_becomes_plain_text() {
        assert_eq!(
            escaped("</title><script>alert('x')</script>&\"\u{1b}[2J\u{202e}"),
            "&lt;/title&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;&quot;\u{fffd}[2J\u{fffd}"
        );
        assert_eq!(tame("Ä → 🏁\n"), "Ä → 🏁\n");
    }
}
