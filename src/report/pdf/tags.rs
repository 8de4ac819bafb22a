//! The structure that screen readers follow: a tree of headings, paragraphs, lists, tables and figures.

use std::num::NonZeroU16;

use krilla::tagging::Identifier;
use krilla::tagging::{ListNumbering, Node, TableHeaderScope, Tag, TagGroup, TagKind, TagTree};

/// A place in the tree.
pub(super) type NodeId = usize;

/// What a place is.
#[derive(Clone, Debug)]
pub(super) enum Kind {
    /// A heading with its level from 1 and its words.
    Heading(u16, String),
    Paragraph,
    List,
    Item,
    ItemBody,
    Table,
    TableHead,
    TableBody,
    Row,
    HeadCell,
    Cell,
    /// A picture or drawing with its words for those who do not see it.
    Figure(String),
    Part,
}

struct Place {
    kind: Kind,
    children: Vec<NodeId>,
    content: Vec<Identifier>,
}

/// The tree while it grows.
#[derive(Default)]
pub(super) struct Tags {
    places: Vec<Place>,
    top: Vec<NodeId>,
}

impl Tags {
    /// A new place under another, or at the top.
    pub(super) fn add(&mut self, under: Option<NodeId>, kind: Kind) -> NodeId {
        let id = self.places.len();
        self.places.push(Place { kind, children: Vec::new(), content: Vec::new() });
        match under {
            Some(parent) => self.places[parent].children.push(id),
            None => self.top.push(id),
        }
        id
    }

    /// Something drawn belongs to a place.
    pub(super) fn drawn(&mut self, at: NodeId, identifier: Identifier) {
        self.places[at].content.push(identifier);
    }

    /// The headings in their order: level and words, with the place they have in the tree.
    pub(super) fn headings(&self) -> impl Iterator<Item = (NodeId, u16, &str)> {
        self.places.iter().enumerate().filter_map(|(id, place)| match &place.kind {
            Kind::Heading(level, words) => Some((id, *level, words.as_str())),
            _ => None,
        })
    }

    /// The finished tree.
    pub(super) fn tree(&self, language: &str) -> TagTree {
        let mut tree = TagTree::new().with_lang(Some(language.to_owned()));
        self.top.iter().for_each(|&id| tree.push(self.group(id)));
        tree
    }

    fn group(&self, id: NodeId) -> TagGroup {
        let place = &self.places[id];
        let children = place.content.iter().map(|&identifier| Node::from(identifier));
        let children = children.chain(place.children.iter().map(|&child| Node::from(self.group(child))));
        TagGroup::with_children(kind(&place.kind), children.collect())
    }
}

fn kind(kind: &Kind) -> TagKind {
    match kind {
        Kind::Heading(level, words) => {
            Tag::Hn(NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN), Some(words.clone())).into()
        }
        Kind::Paragraph => Tag::P.into(),
        Kind::List => Tag::L(ListNumbering::Disc).into(),
        Kind::Item => Tag::LI.into(),
        Kind::ItemBody => Tag::LBody.into(),
        Kind::Table => Tag::Table.into(),
        Kind::TableHead => Tag::THead.into(),
        Kind::TableBody => Tag::TBody.into(),
        Kind::Row => Tag::TR.into(),
        Kind::HeadCell => Tag::TH(TableHeaderScope::Column).into(),
        Kind::Cell => Tag::TD.into(),
        Kind::Figure(alt) => Tag::Figure(Some(alt.clone())).into(),
        Kind::Part => Tag::Div.into(),
    }
}
