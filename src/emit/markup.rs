//! Markup as a type: text comes in only by being escaped, so that nothing can be written raw.
use std::borrow::Cow;

use super::escape;

/// Well-formed HTML in which every text that is not of this program is escaped.
///
/// Made from text, which is escaped; from markup that stands in the source; from other `Html`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Html(Cow<'static, str>);

impl Html {
    /// Nothing.
    pub const EMPTY: Html = Html(Cow::Borrowed(""));

    /// Markup that stands in the source.
    pub const fn markup(markup: &'static str) -> Html {
        Html(Cow::Borrowed(markup))
    }

    /// Text, escaped.
    pub fn text(text: &str) -> Html {
        Html(Cow::Owned(escape::html(text)))
    }

    /// Text as a quoted string of CSS, for a style element.
    pub fn css_string(text: &str) -> Html {
        Html(Cow::Owned(escape::css(text)))
    }

    /// Puts text, escaped, or markup at the end.
    pub fn push(&mut self, more: impl Into<Html>) {
        self.0.to_mut().push_str(&more.into().0);
    }

    /// The same with more at its end.
    #[must_use]
    pub fn then(mut self, more: impl Into<Html>) -> Html {
        self.push(more);
        self
    }

    /// Pieces with `between` them.
    pub fn joined(pieces: impl IntoIterator<Item = Html>, between: &'static str) -> Html {
        let mut out = Html::EMPTY;
        for (i, piece) in pieces.into_iter().enumerate() {
            if i > 0 {
                out.push(Html::markup(between));
            }
            out.push(piece);
        }
        out
    }

    /// The document as text, at the very end.
    pub fn into_string(self) -> String {
        self.0.into_owned()
    }
}

impl From<&str> for Html {
    fn from(text: &str) -> Html {
        Html::text(text)
    }
}

impl From<String> for Html {
    fn from(text: String) -> Html {
        Html::text(&text)
    }
}

impl From<&String> for Html {
    fn from(text: &String) -> Html {
        Html::text(text)
    }
}

impl From<Tag> for Html {
    /// The element without content.
    fn from(tag: Tag) -> Html {
        Html(Cow::Owned(tag.open + "/>"))
    }
}

impl FromIterator<Html> for Html {
    fn from_iter<I: IntoIterator<Item = Html>>(pieces: I) -> Html {
        Html::joined(pieces, "")
    }
}

/// The start of an element; becomes [`Html`] with content, or empty by itself.
#[must_use]
pub struct Tag {
    name: &'static str,
    open: String,
}

/// Starts an element; its name stands in the source.
pub fn tag(name: &'static str) -> Tag {
    Tag { name, open: format!("<{name}") }
}

impl Tag {
    /// An attribute; its value is escaped.
    pub fn attr(mut self, name: &'static str, value: impl AsRef<str>) -> Tag {
        let value = escape::attribute(value.as_ref());
        self.open.push_str(&format!(" {name}=\"{value}\""));
        self
    }

    /// The class, none where it is empty.
    pub fn class(self, class: impl AsRef<str>) -> Tag {
        if class.as_ref().is_empty() { self } else { self.attr("class", class) }
    }

    /// The element on its line.
    pub fn line(self, content: impl Into<Html>) -> Html {
        self.with(content).then(Html::markup("\n"))
    }

    /// The element round its content.
    pub fn with(self, content: impl Into<Html>) -> Html {
        let Tag { name, open } = self;
        Html(Cow::Owned(format!("{open}>{}</{name}>", content.into().0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_and_attributes_are_escaped_and_markup_is_kept() {
        let inner = tag("b").with("<&>").then(" ").then(Html::markup("<br/>"));
        let text = tag("p").class("soft").attr("title", "a \"b\"").line(inner).into_string();
        let wanted = "<p class=\"soft\" title=\"a &quot;b&quot;\"><b>&lt;&amp;&gt;</b> <br/></p>\n";
        assert_eq!(text, wanted);
        assert_eq!(Html::from(tag("hr").class("")).into_string(), "<hr/>");
        let list = Html::joined(["a".into(), "b".into()], " · ");
        assert_eq!(list.into_string(), "a · b");
        assert_eq!(Html::css_string("</style>").into_string().matches(['<', '>']).count(), 0);
    }
}
