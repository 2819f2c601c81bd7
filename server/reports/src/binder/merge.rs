//! Many documents into one: pages in their order, each with what it inherited, without actions, under one tree, with
//! bookmarks.

use std::collections::HashSet;

use lopdf::{Bookmark, Dictionary, Document, Error, Object, ObjectId, dictionary};

use super::Binder;
use crate::ReportError;

/// What a page may inherit (ISO 32000-1, table 30).
const INHERITED: [&[u8]; 4] = [b"Resources", b"MediaBox", b"CropBox", b"Rotate"];

/// Gives every page what it inherited, and takes off what could act.
pub(super) fn make_whole(document: &mut Document) -> Result<(), Error> {
    for id in document.get_pages().into_values() {
        let mut page = document.get_dictionary(id)?.clone();
        for key in INHERITED {
            if let Some(value) = inherited(document, id, key)? {
                page.set(key, value);
            }
        }
        if !page.has(b"MediaBox") {
            return Err(Error::DictKey("MediaBox".into()));
        }
        page.remove(b"StructParents");
        document.objects.insert(id, Object::Dictionary(page));
    }
    for object in document.objects.values_mut() {
        disarm(object);
    }
    Ok(())
}

/// Takes actions and scripts off a dictionary and those directly inside it.
fn disarm(object: &mut Object) {
    match object {
        Object::Dictionary(dictionary) => {
            for key in [b"AA".as_slice(), b"JS", b"JavaScript", b"OpenAction"] {
                dictionary.remove(key);
            }
            // The action of an annotation; other dictionaries use the letter for other things.
            if dictionary.has(b"Rect") {
                dictionary.remove(b"A");
            }
            for (_, value) in dictionary.iter_mut() {
                disarm(value);
            }
        }
        Object::Array(items) => items.iter_mut().for_each(disarm),
        _ => {}
    }
}

fn inherited(document: &Document, page: ObjectId, key: &[u8]) -> Result<Option<Object>, Error> {
    let mut seen = HashSet::new();
    let mut at = page;
    while seen.insert(at) {
        let node = document.get_dictionary(at)?;
        if let Ok(value) = node.get(key)
            && !matches!(value, Object::Null)
        {
            return Ok(Some(value.clone()));
        }
        match node.get(b"Parent") {
            Ok(parent) => at = parent.as_reference()?,
            Err(_) => return Ok(None),
        }
    }
    Err(Error::ReferenceCycle(at))
}

/// Contents, then cover and scan of each paper.
pub(super) fn whole(
    binder: &Binder,
    mut front: Document,
    scans: Vec<Option<Document>>,
) -> Result<Vec<u8>, ReportError> {
    let failed = |error: Error| ReportError::Typeset(error.to_string());
    make_whole(&mut front).map_err(failed)?;
    let mut all = Document::with_version("1.7");
    let covers_from = front.get_pages().len().saturating_sub(binder.items.len());
    let front_pages = take(&mut all, front);
    let (contents, covers) = front_pages.split_at(covers_from.min(front_pages.len()));
    let mut kids: Vec<ObjectId> = contents.to_vec();
    if let Some(first) = contents.first() {
        mark(&mut all, "Contents".into(), *first);
    }
    for (number, ((item, cover), scan)) in (1..).zip(binder.items.iter().zip(covers).zip(scans)) {
        kids.push(*cover);
        mark(&mut all, format!("{number}. {}", item.title), *cover);
        if let Some(scan) = scan {
            kids.extend(take(&mut all, scan));
        }
    }
    root(&mut all, kids);
    let info = all.add_object(dictionary! {
        "Title" => lopdf::text_string(&binder.head.whole_title()),
        "Author" => lopdf::text_string(&binder.head.made_by),
        "Creator" => Object::string_literal("Waybill"),
    });
    all.trailer.set("Info", info);
    all.prune_objects();
    let mut bytes = Vec::new();
    all.save_to(&mut bytes)
        .map_err(|error| ReportError::Typeset(error.to_string()))?;
    Ok(bytes)
}

fn mark(all: &mut Document, title: String, page: ObjectId) {
    all.add_bookmark(Bookmark::new(title, [0.0, 0.0, 0.0], 0, page), None);
}

/// Moves the objects of a document over, under numbers of their own; answers its pages in order.
fn take(all: &mut Document, mut from: Document) -> Vec<ObjectId> {
    from.renumber_objects_with(all.max_id + 1);
    let pages: Vec<ObjectId> = from.get_pages().into_values().collect();
    all.max_id = all.max_id.max(from.max_id);
    all.objects.extend(from.objects);
    pages
}

/// The one tree of pages, the outline, the catalogue.
fn root(all: &mut Document, kids: Vec<ObjectId>) {
    let pages = all.new_object_id();
    for id in &kids {
        if let Some(Object::Dictionary(page)) = all.objects.get_mut(id) {
            page.set("Parent", pages);
        }
    }
    let count = i64::try_from(kids.len()).unwrap_or(i64::MAX);
    let tree = dictionary! {
        "Type" => "Pages",
        "Count" => count,
        "Kids" => kids.into_iter().map(Object::Reference).collect::<Vec<_>>(),
    };
    all.objects.insert(pages, Object::Dictionary(tree));
    let mut catalog = Dictionary::new();
    catalog.set("Type", "Catalog");
    catalog.set("Pages", pages);
    // Of what we set ourselves; a scan is a picture. The title stands in the reader's window in place of a file name.
    catalog.set("Lang", Object::string_literal("en-GB"));
    catalog.set(
        "ViewerPreferences",
        dictionary! { "DisplayDocTitle" => true },
    );
    if let Some(outline) = all.build_outline() {
        catalog.set("Outlines", outline);
        catalog.set("PageMode", "UseOutlines");
    }
    let catalog = all.add_object(catalog);
    all.trailer.set("Root", catalog);
}
