//! What of all that was issued a broadcaster's contact may see: what was issued to their own broadcaster (rulebook 8: no
//! other buyers). While a series has one broadcaster there is no other, and nobody has to say whose contact somebody is.
//! With several, a contact of whom nobody said it sees nothing: unknown is never a yes.

use uuid::Uuid;
use waybill_domain::perms::{self, Action, Role};

use crate::db::issued::{self as db, IssuedHead};
use crate::db::{Conn, series};
use crate::error::OpError;
use crate::ops::access::Access;

/// The broadcasters of a series, folded, with the episodes that are theirs.
pub struct Buyers(Vec<(Option<Uuid>, String)>);

/// Whose things somebody sees.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sees {
    /// There is nobody else whose things they could be, or it is their work to see all.
    All,
    /// One broadcaster's, folded.
    Of(String),
    /// Nobody said whose contact they are.
    Nothing,
}

fn fold(name: &str) -> String {
    let words: Vec<&str> = name.split_whitespace().collect();
    words.join(" ").to_lowercase()
}

/// Whether two names are one broadcaster.
pub fn is_same(one: &str, other: &str) -> bool {
    fold(one) == fold(other)
}

impl Buyers {
    /// Reads them.
    ///
    /// # Errors
    /// The database's.
    pub async fn load(conn: &mut Conn, series: Uuid) -> Result<Self, OpError> {
        let all = db::buyers(conn, series).await?;
        let folded = all
            .into_iter()
            .map(|(episode, name)| (episode, fold(&name)));
        Ok(Self(folded.collect()))
    }

    /// What somebody with these roles sees, who receives for this broadcaster.
    pub fn seen_by(&self, roles: &[Role], is_admin: bool, broadcaster: Option<&str>) -> Sees {
        let others: Vec<Role> = (roles.iter().copied())
            .filter(|role| *role != Role::DeliveryContact)
            .collect();
        if perms::may(&others, is_admin, Action::ViewDeliveries) {
            return Sees::All;
        }
        let mut names: Vec<&str> = self.0.iter().map(|(_, name)| name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        match (broadcaster.map(fold), names.as_slice()) {
            (None, [] | [_]) => Sees::All,
            (None, _) => Sees::Nothing,
            (Some(own), []) => Sees::Of(own),
            (Some(own), [only]) if own == *only => Sees::All,
            (Some(own), _) => Sees::Of(own),
        }
    }

    /// Whether a paper that was issued to a broadcaster is among what somebody sees.
    pub fn shows(sees: &Sees, broadcaster: &str) -> bool {
        match sees {
            Sees::All => true,
            Sees::Of(own) => fold(broadcaster) == *own,
            Sees::Nothing => false,
        }
    }

    /// Whether a cue sheet is: it names no broadcaster, and goes to those who are owed or were sent something of its episode.
    pub fn shows_sheet(&self, sees: &Sees, episode: Uuid) -> bool {
        match sees {
            Sees::All => true,
            Sees::Of(own) => (self.0.iter()).any(|(of, name)| *of == Some(episode) && name == own),
            Sees::Nothing => false,
        }
    }
}

/// What the one who asks sees.
pub struct Receiver {
    buyers: Buyers,
    pub sees: Sees,
}

impl Receiver {
    /// Reads whose contact they are.
    ///
    /// # Errors
    /// The database's.
    pub async fn load(conn: &mut Conn, access: &Access) -> Result<Self, OpError> {
        let own = access.series.id;
        let buyers = Buyers::load(conn, own).await?;
        let of = series::broadcaster_of(conn, own, access.actor.user_id).await?;
        let sees = buyers.seen_by(&access.roles, access.actor.is_admin, of.as_deref());
        Ok(Self { buyers, sees })
    }

    /// Whether they see a paper.
    pub fn sees_paper(&self, paper: &IssuedHead) -> bool {
        Buyers::shows(&self.sees, &paper.broadcaster)
    }

    /// Whether they see the cue sheets of an episode.
    pub fn sees_sheet(&self, episode: Uuid) -> bool {
        self.buyers.shows_sheet(&self.sees, episode)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: rulebook 8: a delivery contact sees their own deliverables, report and sheet, no other buyers'.
    #[test]
    fn a_contact_sees_their_own_broadcasters() {
        let (one, two) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let contact = [Role::DeliveryContact];
        let alone = Buyers(vec![(Some(one), "north".into()), (None, "north".into())]);
        assert_eq!(alone.seen_by(&contact, false, None), Sees::All);
        assert_eq!(alone.seen_by(&contact, false, Some("North ")), Sees::All);
        assert_eq!(
            alone.seen_by(&contact, false, Some("South")),
            Sees::Of("south".into())
        );
        let both = Buyers(vec![
            (Some(one), "north".into()),
            (Some(two), "south".into()),
        ]);
        assert_eq!(both.seen_by(&contact, false, None), Sees::Nothing);
        let north = both.seen_by(&contact, false, Some("North"));
        assert!(Buyers::shows(&north, " NORTH") && !Buyers::shows(&north, "South"));
        assert!(!Buyers::shows(&north, ""), "a paper that names nobody");
        assert!(both.shows_sheet(&north, one) && !both.shows_sheet(&north, two));
        // Whoever sees deliveries by another role is no outsider.
        let coordinator = [Role::DeliveryContact, Role::Coordinator];
        assert_eq!(both.seen_by(&coordinator, false, None), Sees::All);
        assert_eq!(both.seen_by(&[], true, None), Sees::All);
    }
}
