//! Text put into HTML, SVG and other markup.

/// The text with what markup takes for its own replaced, and control characters by spaces, so that no name becomes a
/// tag or an attribute.
pub fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => escaped += "&amp;",
            '<' => escaped += "&lt;",
            '>' => escaped += "&gt;",
            '"' => escaped += "&quot;",
            '\'' => escaped += "&#39;",
            c if c.is_control() => escaped.push(' '),
            c => escaped.push(c),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    #[test]
    fn words_cannot_become_markup() {
        assert_eq!(super::escaped("<b>\"&'\u{7}é"), "&lt;b&gt;&quot;&amp;&#39; é");
    }
}
