//! Who may do what in a series: roles, actions, and the one table that joins them (rulebook 8).
//!
//! Decided here and nowhere else; `ops` asks before every change, so that a job or a second
//! endpoint cannot skip it. Roles stack: a person with several may do what any of them allows.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A hat somebody wears in one series. One person may wear several.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Answers for the series and approves its clearance.
    SeriesProducer,
    /// Executive or lawyer: approves fair use, waivers, withdrawals.
    Counsel,
    /// Drives, cuts, deliverables; sees the effect of a restriction, not its reason.
    PostSupervisor,
    /// On location: people, places, releases, cards of the day.
    AssociateProducer,
    /// Chases and files contacts and contracts.
    Coordinator,
    /// Cuts and logs; sees "do not use", "blur", "no name".
    Editor,
    /// Music, its licences and fees.
    MusicSupervisor,
    /// The broadcaster's contact: sees deliverables and what was issued only.
    DeliveryContact,
    /// Retention, erasure and access requests.
    DataLead,
}

impl Role {
    /// Every role, in the order in which they are listed to people.
    pub const ALL: [Role; 9] = [
        Role::SeriesProducer,
        Role::Counsel,
        Role::PostSupervisor,
        Role::AssociateProducer,
        Role::Coordinator,
        Role::Editor,
        Role::MusicSupervisor,
        Role::DeliveryContact,
        Role::DataLead,
    ];
}

/// Something that can be done in a series. The names are the `actions` of `GET /api/me`.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// See the series, its episodes, board and schedule.
    ViewSeries,
    /// Change the series' settings.
    EditSeries,
    /// Invite people, give and take roles.
    ManageTeam,
    /// See people by credited name, places, and the flags that bind their use.
    ViewPeople,
    /// See telephone numbers, addresses and guardians.
    ViewContacts,
    /// See a date of birth rather than "adult" or "under 18".
    ViewBirthDate,
    /// See the notes on a person or release: why a restriction exists.
    ViewSensitiveNotes,
    /// Change people, places.
    EditPeople,
    /// See releases and their scans.
    ViewReleases,
    /// Change releases.
    EditReleases,
    /// Change episodes, scenes and shoot days.
    EditSchedule,
    /// See licences, without fees.
    ViewLicences,
    /// Change music and imported assets.
    EditAssets,
    /// Change licences.
    EditLicences,
    /// See fees and payments.
    ViewFees,
    /// See cards, drives, files and the log.
    ViewFootage,
    /// Change drives and cards.
    EditFootage,
    /// Say for post whether the footage of a card is good.
    ReportFootage,
    /// Send drive scans.
    SendScan,
    /// See cuts and what they use.
    ViewCuts,
    /// Import and remove cuts, match their events.
    ImportCut,
    /// Lock and unlock a cut.
    LockCut,
    /// Say who and what is in the footage.
    LogFootage,
    /// See specifications and deliverables.
    ViewDeliveries,
    /// Change delivery specifications.
    EditSpecification,
    /// Change deliverables.
    EditDeliverables,
    /// See the clearance of a cut.
    ViewClearance,
    /// Approve a clearance.
    Approve,
    /// Decide on a wish to withdraw.
    DecideWithdrawal,
    /// Make reports and papers as things stand now. Issued ones go with [`Action::ViewDeliveries`].
    DownloadReport,
    /// See who changed what.
    ViewAudit,
}

impl Action {
    /// Every action.
    pub const ALL: [Action; 31] = {
        use Action::*;
        [
            ViewSeries,
            EditSeries,
            ManageTeam,
            ViewPeople,
            ViewContacts,
            ViewBirthDate,
            ViewSensitiveNotes,
            EditPeople,
            ViewReleases,
            EditReleases,
            EditSchedule,
            ViewLicences,
            EditAssets,
            EditLicences,
            ViewFees,
            ViewFootage,
            EditFootage,
            ReportFootage,
            SendScan,
            ViewCuts,
            ImportCut,
            LockCut,
            LogFootage,
            ViewDeliveries,
            EditSpecification,
            EditDeliverables,
            ViewClearance,
            Approve,
            DecideWithdrawal,
            DownloadReport,
            ViewAudit,
        ]
    };
}

/// The table. A line is a role and all that it may do.
fn allowed(role: Role) -> &'static [Action] {
    use Action::*;
    match role {
        Role::SeriesProducer => &Action::ALL,
        Role::Counsel => &[
            ViewSeries,
            ViewPeople,
            ViewContacts,
            ViewBirthDate,
            ViewSensitiveNotes,
            EditPeople,
            ViewReleases,
            EditReleases,
            ViewLicences,
            EditAssets,
            EditLicences,
            ViewFees,
            ViewFootage,
            ViewCuts,
            ViewDeliveries,
            EditSpecification,
            ViewClearance,
            Approve,
            DecideWithdrawal,
            DownloadReport,
            ViewAudit,
        ],
        Role::PostSupervisor => &[
            ViewSeries,
            EditSchedule,
            ViewPeople,
            ViewLicences,
            EditAssets,
            ViewFootage,
            EditFootage,
            ReportFootage,
            SendScan,
            ViewCuts,
            ImportCut,
            LockCut,
            LogFootage,
            ViewDeliveries,
            EditSpecification,
            EditDeliverables,
            ViewClearance,
            DownloadReport,
        ],
        Role::AssociateProducer => &[
            ViewSeries,
            EditSchedule,
            ViewPeople,
            ViewContacts,
            ViewBirthDate,
            EditPeople,
            ViewReleases,
            EditReleases,
            ViewFootage,
            EditFootage,
            SendScan,
            LogFootage,
            ViewCuts,
            ViewClearance,
        ],
        Role::Coordinator => &[
            ViewSeries,
            EditSchedule,
            ViewPeople,
            ViewContacts,
            ViewBirthDate,
            EditPeople,
            ViewReleases,
            EditReleases,
            ViewLicences,
            EditAssets,
            EditLicences,
            ViewFees,
            ViewFootage,
            ViewCuts,
            ViewDeliveries,
            EditDeliverables,
            ViewClearance,
            DownloadReport,
        ],
        Role::Editor => &[
            ViewSeries,
            ViewPeople,
            ViewFootage,
            ReportFootage,
            SendScan,
            ViewCuts,
            ImportCut,
            LogFootage,
            EditAssets,
            ViewDeliveries,
            ViewClearance,
            DownloadReport,
        ],
        Role::MusicSupervisor => &[
            ViewSeries,
            ViewLicences,
            EditAssets,
            EditLicences,
            ViewFees,
            ViewCuts,
            ViewDeliveries,
            ViewClearance,
            DownloadReport,
        ],
        // What was issued is among the deliveries; what is made as it stands now is a working paper.
        Role::DeliveryContact => &[ViewDeliveries],
        Role::DataLead => &[
            ViewSeries,
            ManageTeam,
            ViewPeople,
            ViewContacts,
            ViewBirthDate,
            ViewSensitiveNotes,
            ViewReleases,
            ViewFootage,
            ViewAudit,
        ],
    }
}

/// May somebody with these roles do this?
///
/// An administrator of the organisation may do everything but approve a clearance and decide on a withdrawal: who runs
/// the server does not thereby answer for the programme.
///
/// ```
/// use waybill_domain::perms::{may, Action, Role};
/// assert!(may(&[Role::Editor], false, Action::LogFootage));
/// assert!(!may(&[Role::Editor], false, Action::ViewBirthDate));
/// assert!(!may(&[], true, Action::Approve));
/// ```
pub fn may(roles: &[Role], administrator: bool, action: Action) -> bool {
    let answers_for_it = matches!(action, Action::Approve | Action::DecideWithdrawal);
    (administrator && !answers_for_it) || roles.iter().any(|role| allowed(*role).contains(&action))
}

/// Everything somebody with these roles may do, in the order of [`Action::ALL`].
pub fn actions(roles: &[Role], administrator: bool) -> Vec<Action> {
    Action::ALL
        .into_iter()
        .filter(|action| may(roles, administrator, *action))
        .collect()
}

/// May somebody with these roles, who may manage the team, give or take away `role`?
///
/// An administrator and a series producer decide on all roles. Anybody else who manages a team can't hand out more than
/// they have: a role of which they may not do everything themselves is not theirs to give, to themselves least of all.
///
/// ```
/// use waybill_domain::perms::{may_give, Role};
/// assert!(may_give(&[Role::SeriesProducer], false, Role::Counsel));
/// assert!(!may_give(&[Role::DataLead], false, Role::SeriesProducer));
/// ```
pub fn may_give(roles: &[Role], administrator: bool, role: Role) -> bool {
    administrator
        || roles.contains(&Role::SeriesProducer)
        || (may(roles, false, Action::ManageTeam)
            && allowed(role)
                .iter()
                .all(|action| may(roles, false, *action)))
}

/// Refused: the action that the person's roles do not allow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("your roles in this series do not allow this ({0:?})")]
pub struct NotAllowed(pub Action);

/// [`may`], as a step that stops the caller.
pub fn require(roles: &[Role], administrator: bool, action: Action) -> Result<(), NotAllowed> {
    if may(roles, administrator, action) {
        Ok(())
    } else {
        Err(NotAllowed(action))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rulebook 8, column "Not".
    #[test]
    fn roles_are_kept_from_what_the_rulebook_denies_them() {
        let denied = [
            (Role::PostSupervisor, Action::ViewBirthDate),
            (Role::PostSupervisor, Action::ViewContacts),
            (Role::AssociateProducer, Action::EditLicences),
            (Role::AssociateProducer, Action::ViewSensitiveNotes),
            (Role::Coordinator, Action::Approve),
            (Role::Editor, Action::ViewSensitiveNotes),
            (Role::Editor, Action::ViewContacts),
            (Role::MusicSupervisor, Action::ViewPeople),
            (Role::DeliveryContact, Action::ViewReleases),
            (Role::DeliveryContact, Action::ViewSensitiveNotes),
            (Role::DeliveryContact, Action::DownloadReport),
            (Role::DataLead, Action::ImportCut),
        ];
        for (role, action) in denied {
            assert!(!may(&[role], false, action), "{role:?} must not {action:?}");
        }
    }

    #[test]
    fn only_producer_and_counsel_approve_and_an_administrator_does_not() {
        for role in Role::ALL {
            let approves = matches!(role, Role::SeriesProducer | Role::Counsel);
            for action in [Action::Approve, Action::DecideWithdrawal] {
                assert_eq!(may(&[role], false, action), approves, "{role:?}");
            }
        }
        assert_eq!(actions(&[], true).len(), Action::ALL.len() - 2);
    }

    /// No chain of gifts gets anybody more than they have: whoever is not a producer gives only
    /// roles that add nothing to their own.
    #[test]
    fn nobody_gives_more_than_they_have() {
        for giver in Role::ALL {
            for role in Role::ALL {
                let gives = may_give(&[giver], false, role);
                if giver == Role::SeriesProducer {
                    assert!(gives);
                } else if gives {
                    assert_eq!(actions(&[giver, role], false), actions(&[giver], false));
                    assert!(may(&[giver], false, Action::ManageTeam));
                }
            }
            assert!(may_give(&[], true, giver) && !may_give(&[], false, giver));
        }
        assert!(may_give(&[Role::DataLead], false, Role::DataLead));
        assert!(!may_give(
            &[Role::DataLead, Role::Editor],
            false,
            Role::Counsel
        ));
    }

    #[test]
    fn roles_stack_and_nobody_may_do_nothing() {
        let both = [Role::MusicSupervisor, Role::Editor];
        assert!(may(&both, false, Action::ViewFees) && may(&both, false, Action::LogFootage));
        assert!(actions(&[], false).is_empty());
    }
}
