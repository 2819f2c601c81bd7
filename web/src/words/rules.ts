// The rules that reasons name, in a sentence or two each, so that "why?" is answered where it is asked. They restate
// the rulebook; what is worked out is the server's.
const rules: Readonly<Record<string, string>> = {
  R1: "A term of months ends on the day before, or on the day with, the same number, as the contract counts; where it does not say, the earlier end is taken and named as assumed.",
  R2: "A term that starts with an event (signature, first transmission, delivery, first use) has no known end until that event has a day; a planned day makes it provisional.",
  R3: "For each needed territory and medium all grants are added up; every needed day must lie within one of them.",
  R4: "No more showings than were granted; how they are counted is as the paper says.",
  R5: "The episode may be shown only as long as its weakest element; what is unknown makes the end unknown.",
  R7: "An option to extend is lost once the last day for its notice has passed, though the licence still runs.",
  R8: "Rights are needed until the distribution ends and for as long as a sub-licence may run beyond it.",
  R9: "In the US, a work published in year Y is likely free from 1 January of Y + 96, and one that is counted by its author's death from 1 January of the 71st year after it. It is an estimate, for one country.",
  R10: "An owner bills at least so many seconds for a shot or for the whole programme, whatever is used.",
  R11: "Who was promised equal terms is paid no less than the best-paid comparable party.",
  R12: "The shares of a composition's parties add up to 100 %, and every one of them must have agreed.",
  R19: "A release holds for a use when it is signed, in time, by whoever may sign, for this production and this day of filming, with what it gives in return, and nothing that was promised is broken. All that fails is listed.",
  R20: "An age is reached at the start of the birthday. It is asked on the day of filming, of the signature and of the first transmission; under 18, a parent or guardian signs.",
  R21: "A form signed more than 14 days after filming asks for a look; one signed after the use is no consent to it.",
  R22: "A posted notice is evidence only: at every entrance, with its words, its time and a photograph, and for people in the background, never for who is interviewed, singled out or a child.",
  R23: "Whatever somebody made a condition of their consent is checked against the cut and what is delivered. A promised blur and a clean cover of that shot exclude each other.",
  R26: "Before each repeat six questions are asked: a death, an accusation or conviction, comments on either, words that are no longer acceptable, a licence that has lapsed.",
  R36: "A caption is compared letter by letter, accents and case too, with the name that the person confirmed.",
  R51: "Fair use is a ladder: disclosed to the insurer, approved by the broadcaster in writing, counsel's opinion letter, the insurer's endorsement. Only the last makes it accepted.",
  R52: "Where the buyer must accept fewer rights, that is approved before the licence is signed and before the element is used.",
  R54: "A ground holds only where it is law and never in promotion: fair dealing and incidental inclusion in the UK, fair use in the US unless counsel extends it, public domain territory by territory, a blanket licence in the broadcaster's own country.",
  R55: "A Creative Commons licence for non-commercial use does not cover a broadcast; one without derivatives goes to counsel where the work is cut or changed; title, author, source and licence are credited.",
};

export const ruleWords = (rule: string): string | undefined => rules[rule];
