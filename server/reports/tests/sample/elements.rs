//! The elements of the sample: each state at least once, in the words that the server would use.

use waybill_domain::report::{CellKind, ReportState};

use super::{Element, cells, day, element};

/// All elements, in no particular order.
pub(super) fn all() -> Vec<Element> {
    let mut elements = blocked_elements();
    elements.extend(unknown_elements());
    elements.extend(covered_elements());
    elements
}

fn blocked_elements() -> Vec<Element> {
    let (all, due) = ([0, 1, 2], day(2029, 1, 23));
    vec![
        element(ReportState::Gap, "Person, under 18", "Wren Halloway-Mistry")
            .credited("Wren")
            .papers(
                "released",
                &["Appearance form AF-031, signed 14 Jul 2028 by the person only"],
            )
            .fails(cells(
                CellKind::Gap,
                &all,
                &[0, 1, 2],
                None,
                "no valid release",
            ))
            .because(
                "R19",
                "Wren was 15 on the day of filming (14 Jul 2028) and no guardian has \
                      signed.",
            )
            .because(
                "R20",
                "Born 15 Aug 2012; still under 18 on the first day of the delivery.",
            )
            .asks(
                due,
                &[
                    "Have a guardian sign form AF-031, or take the shots out.",
                    "Check with Wren that they still agree.",
                ],
            )
            .used(
                14,
                "10:02:11:04",
                9,
                Some("280714_SLIP_CAMA_A004_012.mov"),
                Some("A004"),
            )
            .used(
                52,
                "10:11:40:00",
                22,
                Some("280714_SLIP_CAMB_B002_003.mov"),
                Some("B002"),
            )
            .used(
                131,
                "10:31:02:19",
                6,
                Some("280714_SLIP_CAMA_A005_001.mov"),
                Some("A005"),
            ),
        element(
            ReportState::Gap,
            "Music, recording",
            "“The Ebb Song”, choir recording",
        )
        .credit_line("Traditional, arr. Odile Marchbank; Tidewater Voices")
        .papers(
            "licensed",
            &["Composition: Marchbank Editions ME-77, signed 3 Dec 2028"],
        )
        .fails(cells(
            CellKind::Gap,
            &all,
            &[0, 1, 2],
            None,
            "no licence for the recording",
        ))
        .because(
            "R54",
            "Only one of the two sides is licensed: the arrangement is, this \
                      recording of it is not.",
        )
        .asks(
            day(2029, 1, 30),
            &["Ask Tidewater Voices for a master-use licence on the same \
                      terms as the composition."],
        )
        .used(
            61,
            "10:14:03:10",
            74,
            Some("TIDEWATER_EBB_SONG_MIX_3.wav"),
            None,
        ),
        element(
            ReportState::Gap,
            "Archive film",
            "Harbour newsreel, regatta of 1956",
        )
        .credit_line("Northquay Newsreel Library")
        .papers(
            "licensed",
            &[
                "Licence NQ-204, Northquay Newsreel Library, signed 10 Jan 2028, \
                      three years from signature",
            ],
        )
        .fails(cells(
            CellKind::Gap,
            &all,
            &[0, 1],
            Some((day(2031, 1, 10), day(2032, 2, 29))),
            "the licence ends first",
        ))
        .fails(cells(CellKind::Gap, &[2], &[2], None, "no grant names it"))
        .because(
            "R3",
            "The licence ends on 9 Jan 2031; the delivery needs it until \
                      29 Feb 2032 (416 days short).",
        )
        .because("R3", "Promotion in Norway is not in any grant.")
        .asks(
            day(2029, 2, 15),
            &[
                "Take up the extension in clause 6 of NQ-204: notice by \
                      11 Oct 2030.",
                "Ask for promotion in Norway, or keep the clip out of trails.",
            ],
        )
        .ends(day(2031, 1, 9))
        .used(
            22,
            "10:04:30:00",
            18,
            Some("NQ_1956_REGATTA_REEL2.mov"),
            None,
        )
        .used(
            23,
            "10:04:48:00",
            11,
            Some("NQ_1956_REGATTA_REEL2.mov"),
            None,
        ),
        element(
            ReportState::UnknownSource,
            "Unknown source",
            "Event 88, “IMG_4471_final_FINAL”",
        )
        .because(
            "",
            "No catalogued file, import or music answers for event 88.",
        )
        .asks(
            due,
            &["Say what event 88 is: match it to a file or an import."],
        )
        .used(88, "10:20:12:08", 4, None, Some("AX")),
    ]
}

fn unknown_elements() -> Vec<Element> {
    let all = [0, 1, 2];
    vec![
        element(
            ReportState::Unknown,
            "Archive film",
            "Boatyard home film, 1971",
        )
        .credit_line("Courtesy of the Orrin family")
        .papers(
            "licensed",
            &[
                "Agreement OF-2, Orrin family, signed 2 Sep 2028, five years \
                      from first transmission",
            ],
        )
        .fails(cells(
            CellKind::Unknown,
            &all,
            &[0, 1, 2],
            None,
            "the first transmission has no date",
        ))
        .because(
            "R2",
            "The term runs from first transmission, which has no date yet. Its end \
                      is unknown, not unlimited.",
        )
        .asks(
            day(2029, 2, 1),
            &["Enter the date of the first transmission once it is set."],
        )
        .used(40, "10:08:55:00", 31, Some("ORRIN_8MM_SCAN_2K.mov"), None),
        element(
            ReportState::NotLogged,
            "Footage",
            "280902_SLIP_CAMC_C011_004.mov",
        )
        .because(
            "R50",
            "Nobody has written down who and what is in this file.",
        )
        .asks(
            day(2029, 1, 23),
            &["Log the people, places and artworks in the ranges used."],
        )
        .used(
            97,
            "10:22:40:00",
            12,
            Some("280902_SLIP_CAMC_C011_004.mov"),
            Some("C011"),
        )
        .used(
            99,
            "10:23:01:15",
            3,
            Some("280902_SLIP_CAMC_C011_004.mov"),
            Some("C011"),
        ),
        element(
            ReportState::Restricted,
            "Person",
            "Contributor R (name withheld)",
        )
        .papers("released", &["Appearance form AF-018, signed 3 Jul 2028"])
        .fails(cells(
            CellKind::Restricted,
            &all,
            &[2],
            None,
            "face must be blurred",
        ))
        .because(
            "R23",
            "The form asks for a blurred face. The shot in event 73 is marked as \
                      blurred; the clean cover must not be delivered with it.",
        )
        .asks(
            day(2029, 2, 15),
            &["Confirm with the post supervisor that no clean version \
                      leaves the building."],
        )
        .used(
            73,
            "10:17:20:00",
            15,
            Some("280703_SLIP_CAMA_A001_007.mov"),
            Some("A001"),
        ),
        element(
            ReportState::EndsSoon,
            "Photograph",
            "Portrait of the 1938 crew",
        )
        .credit_line("Harbour Museum of Saltmere")
        .papers("licensed", &["Licence HM-12/28, signed 1 May 2028"])
        .because(
            "R6",
            "The licence ends on 31 Mar 2032, 31 days after the last needed day.",
        )
        .ends(day(2032, 3, 31))
        .used(24, "10:04:59:00", 7, Some("HM_1938_CREW_600DPI.tif"), None),
    ]
}

fn covered_elements() -> Vec<Element> {
    let released = |name: &str, credit: &str, form: &str| {
        element(ReportState::Covered, "Person", name)
            .credited(credit)
            .papers("released", &[form])
    };
    vec![
        released(
            "Aurelio Penhallow",
            "Aurelio Penhallow, boatbuilder",
            "Appearance form AF-002, signed 1 Jun 2028",
        )
        .used(
            3,
            "10:00:20:00",
            41,
            Some("280601_SLIP_CAMA_A001_001.mov"),
            Some("A001"),
        )
        .used(
            31,
            "10:06:10:00",
            58,
            Some("280811_SLIP_CAMA_A009_002.mov"),
            Some("A009"),
        ),
        released(
            "Siân Okonedo-Bryce",
            "Siân Okonedo-Bryce, coach",
            "Appearance form AF-005, signed 4 Jun 2028",
        )
        .used(
            9,
            "10:01:33:00",
            12,
            Some("280604_SLIP_CAMB_B001_004.mov"),
            Some("B001"),
        ),
        element(
            ReportState::Covered,
            "Place",
            "Saltmere slipway and boathouse",
        )
        .papers(
            "released",
            &["Location agreement LA-1, Saltmere Harbour Trust, signed \
                      20 May 2028"],
        )
        .used(
            1,
            "10:00:00:00",
            20,
            Some("280601_SLIP_DRON_D001_002.mov"),
            Some("D001"),
        ),
        element(
            ReportState::Covered,
            "Brand in shot",
            "Kestrel Marine Paints, logo on hull",
        )
        .papers(
            "incidental, lawyer’s note",
            &["Note of 8 Jan 2029, filed as N-4"],
        )
        .used(
            33,
            "10:07:08:00",
            5,
            Some("280811_SLIP_CAMA_A009_004.mov"),
            Some("A009"),
        ),
        element(
            ReportState::Covered,
            "Music, composition and recording",
            "Main title, “Feather”",
        )
        .credit_line("Composed by Ilse Tamarack")
        .papers(
            "commissioned",
            &["Composer agreement CA-1, signed 9 Mar 2028, all media, \
                      world, no end"],
        )
        .used(
            2,
            "10:00:05:00",
            35,
            Some("SLIPWAY_M01_FEATHER_v6.wav"),
            None,
        ),
    ]
}
