//! Hashes of folders [S 6.5.2, appendix G]: over what lies directly in them, for one type at a time.
//!
//! Content: the files' hashes and the subfolders' content hashes, sorted, one after another, hashed.
//! Structure: for each child the hash of its name and its hash (of a subfolder its structure hash); these
//! sorted, one after another, hashed. Equal hashes are not merged. A folder without children has the hash
//! of no bytes. Sorting bytes equals sorting the texts as the standard says: hex digits and the digits of
//! C4 IDs are in the order of their characters, and of fixed length.

use super::digest::{Digest, HashParts};
use crate::hashes::HashKind;

/// The two hashes of a folder in some types.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FolderHashes {
    /// One for each type.
    pub content: Vec<Digest>,
    /// One for each type.
    pub structure: Vec<Digest>,
}

/// Gathers the children of one folder.
pub struct FolderBuilder {
    /// Types in which every child so far has a hash.
    kinds: Vec<KindParts>,
}

struct KindParts {
    kind: HashKind,
    content: Vec<Box<[u8]>>,
    structure: Vec<Box<[u8]>>,
}

impl FolderBuilder {
    /// A folder without children yet, for these types.
    pub fn new(kinds: &[HashKind]) -> Self {
        let parts = |kind: &HashKind| KindParts {
            kind: *kind,
            content: Vec::new(),
            structure: Vec::new(),
        };
        Self {
            kinds: kinds.iter().map(parts).collect(),
        }
    }

    /// Takes a file. A type in which it has no hash is dropped: hashes of different runs or types are
    /// never combined [G 2.5.3].
    pub fn add_file(&mut self, name: &str, digests: &[Digest], hash: HashParts<'_>) {
        self.add(name, digests, digests, hash);
    }

    /// Takes a subfolder.
    pub fn add_folder(&mut self, name: &str, hashes: &FolderHashes, hash: HashParts<'_>) {
        self.add(name, &hashes.content, &hashes.structure, hash);
    }

    /// A child whose hash is not known: the folder has none then.
    pub fn spoil(&mut self) {
        self.kinds.clear();
    }

    fn add(&mut self, name: &str, content: &[Digest], structure: &[Digest], hash: HashParts<'_>) {
        self.kinds.retain_mut(|parts| {
            let of_kind = |digest: &&Digest| digest.kind() == parts.kind;
            match (content.iter().find(of_kind), structure.iter().find(of_kind)) {
                (Some(content), Some(structure)) => {
                    let named = hash(parts.kind, &[name.as_bytes(), structure.bytes()]);
                    parts.content.push(content.bytes().into());
                    parts.structure.push(named.bytes().into());
                    true
                }
                _ => false,
            }
        });
    }

    /// The folder's hashes, in the types that every child has.
    pub fn finish(self, hash: HashParts<'_>) -> FolderHashes {
        let over = |kind, mut parts: Vec<Box<[u8]>>| {
            parts.sort_unstable();
            let parts: Vec<&[u8]> = parts.iter().map(AsRef::as_ref).collect();
            hash(kind, &parts)
        };
        let mut hashes = FolderHashes::default();
        for parts in self.kinds {
            hashes.content.push(over(parts.kind, parts.content));
            hashes.structure.push(over(parts.kind, parts.structure));
        }
        hashes
    }
}
