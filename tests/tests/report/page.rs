//! A page as a tree, through a standard HTML5 parser.

use html5ever::tendril::TendrilSink;
use markup5ever_rcdom::{Handle, NodeData, RcDom};

/// A parsed page.
pub(crate) struct Page {
    dom: RcDom,
}

/// One element with what a test asks of it.
#[derive(Clone)]
pub(crate) struct Element {
    handle: Handle,
}

impl Page {
    pub(crate) fn parse(text: &str) -> Self {
        let dom = html5ever::parse_document(RcDom::default(), html5ever::ParseOpts::default())
            .one(text.to_owned());
        Self { dom }
    }

    /// What the parser found not valid.
    pub(crate) fn faults(&self) -> Vec<String> {
        self.dom
            .errors
            .borrow()
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    pub(crate) fn root(&self) -> Element {
        Element {
            handle: self.dom.document.clone(),
        }
    }

    /// All elements with a name, in order; `*` for every one.
    pub(crate) fn all(&self, name: &str) -> Vec<Element> {
        self.root().all(name)
    }
}

impl Element {
    pub(crate) fn name(&self) -> String {
        match &self.handle.data {
            NodeData::Element { name, .. } => name.local.to_string(),
            _ => String::new(),
        }
    }

    pub(crate) fn attribute(&self, wanted: &str) -> Option<String> {
        match &self.handle.data {
            NodeData::Element { attrs, .. } => attrs
                .borrow()
                .iter()
                .find(|a| &*a.name.local == wanted)
                .map(|a| a.value.to_string()),
            _ => None,
        }
    }

    pub(crate) fn attributes(&self) -> Vec<String> {
        match &self.handle.data {
            NodeData::Element { attrs, .. } => attrs
                .borrow()
                .iter()
                .map(|a| a.name.local.to_string())
                .collect(),
            _ => Vec::new(),
        }
    }

    pub(crate) fn has_class(&self, class: &str) -> bool {
        self.attribute("class")
            .is_some_and(|c| c.split_whitespace().any(|word| word == class))
    }

    pub(crate) fn children(&self) -> Vec<Self> {
        self.handle
            .children
            .borrow()
            .iter()
            .map(|handle| Self {
                handle: handle.clone(),
            })
            .collect()
    }

    /// This text node's text, or nothing for an element.
    pub(crate) fn own_text(&self) -> Option<String> {
        match &self.handle.data {
            NodeData::Text { contents } => Some(contents.borrow().to_string()),
            _ => None,
        }
    }

    /// All text below.
    pub(crate) fn text(&self) -> String {
        self.text_without(&|_| false)
    }

    /// All text below, leaving out elements that the test names.
    pub(crate) fn text_without(&self, is_left_out: &dyn Fn(&Self) -> bool) -> String {
        let mut out = String::new();
        self.gather(is_left_out, &mut out);
        out
    }

    fn gather(&self, is_left_out: &dyn Fn(&Self) -> bool, out: &mut String) {
        if let Some(text) = self.own_text() {
            out.push_str(&text);
        }
        if is_left_out(self) {
            out.push(' ');
            return;
        }
        for child in self.children() {
            child.gather(is_left_out, out);
        }
    }

    /// All elements below with a name, in order; `*` for every one.
    pub(crate) fn all(&self, name: &str) -> Vec<Self> {
        let mut out = Vec::new();
        self.collect(name, &mut out);
        out
    }

    fn collect(&self, name: &str, out: &mut Vec<Self>) {
        for child in self.children() {
            let own = child.name();
            if !own.is_empty() && (name == "*" || own == name) {
                out.push(child.clone());
            }
            child.collect(name, out);
        }
    }
}
