//! The small words of the answer: what to do about each kind of reason, and how sets are printed.

use super::reason::ReasonCode;
use crate::rights::territory::TerritorySet;

pub(super) use crate::wording::days_words as days;

/// The sentence's first letter as a capital.
pub(super) fn first_upper(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(chars).collect()
    })
}

/// `1 run`, `3 runs`.
pub(super) fn number(count: u32, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// Codes of a set; `WORLD` for all.
pub(super) fn codes(set: TerritorySet) -> Vec<String> {
    if set == TerritorySet::world() {
        vec!["WORLD".into()]
    } else {
        set.codes()
    }
}

/// What to do about a kind of reason. Empty where nothing is to be done.
pub(super) fn action(code: ReasonCode) -> &'static str {
    use ReasonCode::*;
    match code {
        UnknownSource => "Match the event to a file, an import or a piece of music.",
        NotLogged => "Look at the footage and log who and what is in it.",
        NoPermission => "Get a release or a licence, or record on which ground none is needed.",
        CompositionMissing => "License the composition from its publisher.",
        RecordingMissing => "License the recording from its owner.",
        NotGranted => {
            "Add these territories and media, replace the element, or narrow the delivery."
        }
        Ended | EndsTooEarly => {
            "Extend the term, replace the element, or end the delivery earlier."
        }
        StartsTooLate => "Have the term begin earlier, or start the delivery later.",
        DaysMissing => "Have the term extended without a break.",
        EndsBeforeItBegins => "Compare the dates with the paper.",
        StartUnknown => {
            "Enter the day that starts the term, planned if need be, or agree a fixed one."
        }
        TermUnknown => "Read the term in the paper and fill it in.",
        TerritoryUnreadable => "Correct the territory in the record.",
        LicenceUnsigned => "Have the licence signed, or take the piece out.",
        DayAhead => {
            "Correct the day if it is mistyped; else have it done, and enter the day on which it was."
        }
        InsideNotEntered => {
            "Enter each thing that is inside, with its own papers; where nothing is, let the note say “nothing”."
        }
        WaiverNotApproved => {
            "Get the buyer's approval in writing before the piece is used, and enter its day."
        }
        WaiverLate => "Tell the buyer; the order of dates is part of the agreement.",
        Unsigned => "Get the form signed before first use, or take the use out.",
        NotChecked => "Read the form, and say whether it is in order.",
        MarkedAsProblem => "Solve the problem, or get another form.",
        SignedAfterUse => "Ask counsel whether the late signature stands.",
        SignedLate => "Check that the person knew what they agreed to.",
        GuardianMissing => "Get the guardian's signature; the child's welfare comes first.",
        SignedByOther => "Get the signature of the person, or of whoever may sign for them.",
        AgeUnknown => "Record a date of birth, or that the person is of age.",
        FilmedOutside => "Have the form's dates corrected, or a form signed for that day.",
        FilmingDayUnknown => "Set the day of filming.",
        WrongEntity => "Have the form signed for the right company, or its rights assigned.",
        NoConsideration => "Have the consideration stated in writing.",
        EditingNotAllowed => "Agree in writing that the material may be cut and re-ordered.",
        PromotionNotAllowed => "Keep it out of promotion, or agree promotion in writing.",
        Withdrawn => "Take the uses out.",
        WithdrawalRequested => "Hold the uses until it is decided.",
        Held => "Decide the withdrawal with counsel; until then keep the uses out.",
        NotUnderstood => {
            "Explain the form in a language the person understands, and have it signed again."
        }
        Disputed => "Settle the dispute with counsel before the uses are shown.",
        AnotherName => "Check whose form it is, and correct the name.",
        CopyrightNotWarranted => "Find out who owns the copyright, and get their licence.",
        ContributorDied => {
            "Check the rights of the estate where it is shown; tell the broadcaster before a repeat."
        }
        PermissionMissing => "Get that permission too; it stands beside the person's own.",
        ShownBeside => "Part the two in the cut, or ask for the condition to be lifted.",
        MediumRestricted => "Leave that medium out, or ask for the condition to be lifted.",
        ApprovalOutstanding => "Show it to them, and record the day on which they approved.",
        SublicenceForbidden => "Agree the right to sub-license, or replace the element.",
        SublicenceNotStated => "Ask the licensor, and record the answer.",
        MostFavouredNations => "Compare the fees; a higher fee elsewhere raises this one.",
        MinimumBilling | OptionTakenUp => "",
        RunsTooFew => "License more runs, or show it less often.",
        RunsUnknown => "Enter in the specification how many runs the delivery needs.",
        OtherEpisode => "License it for this episode, or take it out.",
        OtherVersion => "License it for this version, or take it out.",
        VersionUnknown => "Name the version in the specification.",
        OptionOpen => "Decide in time whether to take up the option.",
        OptionMissed => "Ask the licensor for new terms, or plan to replace the element.",
        PublicDomainTooYoung => "Check the years with counsel, or license it.",
        FaceMustBeBlurred => "Blur the face, or use another shot.",
        VoiceMustBeChanged => "Change the voice, or use another take.",
        NameMustNotBeShown => "Take the name out of the caption.",
        NamedOtherwise => "Set the caption as agreed, and enter it under Captions.",
        CaptionDiffers => "Correct the caption, or ask the person for the spelling.",
        DisguiseNotAgreed => {
            "Ask what was promised; agree and record from whom, how, with whom and when."
        }
        DisguiseTooWeak => "Disguise them as agreed, use another shot, or take the use out.",
        CleanCoverUndoesBlur => "Agree with the buyer that these shots have no clean cover.",
        TerritoryRestricted => {
            "Take the uses out of that version, or ask for the condition to be lifted."
        }
        Embargo => "Start the delivery later, or ask for the condition to be lifted.",
        ConditionInWords => "Check the cut against the words agreed.",
        GroundDoesNotReach => {
            "License it for these places and media, or take it out of that version."
        }
        NoLawyersNote => "Get the lawyer's note before lock.",
        NotIncidental => "License it, or take it out.",
        FairUseIncomplete => "Take the next missing step; until then plan to replace the element.",
        NonCommercialOnly => "License it from its author, or replace it.",
        LicenceUnread => "Enter the licence as its author names it, such as CC BY-SA 4.0.",
        ShareAlike => "Ask counsel whether the programme can meet that.",
        NoDerivatives => "Ask counsel, or use it unchanged.",
        CreditIncomplete => "Complete title, author, source and licence.",
        PublicDomainWhere => "Have it found out for each needed territory.",
        BlanketTheme => "License the music for use as a theme.",
        NoticeIncomplete => "Enter in the record of the notice what it lacks, or get a release.",
        NoticeNotEnough => "Get a release.",
        DecisionIncomplete => "Record why, who decided, and when.",
        EndsSoon => "Decide whether to extend it.",
        ComesOfAge | RestrictionKept | PublicDomainEstimate | NoticeIsEvidenceOnly | NotNeeded => {
            ""
        }
    }
}
