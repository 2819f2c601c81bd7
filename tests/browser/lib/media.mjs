// What a shoot brings home, made from the small media files of tests/outside: a drive's folder with three rolls, the
// edit list that uses them, and a signed form as a PDF.
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const DATA = new URL("../../outside/data/media/", import.meta.url).pathname;
const CLIP = "clip_23976_ndf.mov";
const SOUND = "sound_48k_bext.wav";
/** The reel in the header of the clip; each copy gets its own of the same length. */
const REEL = "A001R1AB";

const rolls = {
  "20260314_A001_CAMA_SLIPWAY": ["A001C001", "A001C002", "A001C003"],
  "20260314_B001_CAMB_BOATHOUSE": ["B001C001", "B001C002"],
};

/** Makes the drive's folder; answers the names of its files. */
export function makeDrive(folder) {
  const clip = readFileSync(join(DATA, CLIP));
  const names = [];
  for (const [roll, clips] of Object.entries(rolls)) {
    mkdirSync(join(folder, roll), { recursive: true });
    for (const name of clips) {
      writeFileSync(join(folder, roll, `${name}.MOV`), withReel(clip, name));
      names.push(`${name}.MOV`);
    }
  }
  const roll = join(folder, "20260314_S001_SND_CHOIR");
  mkdirSync(roll, { recursive: true });
  writeFileSync(join(roll, "S001T01.WAV"), readFileSync(join(DATA, SOUND)));
  return [...names, "S001T01.WAV"];
}

function withReel(clip, reel) {
  const copy = Buffer.from(clip);
  for (let at = copy.indexOf(REEL); at >= 0; at = copy.indexOf(REEL, at + 1)) copy.write(reel, at, "latin1");
  return copy;
}

/** Clips of ours, a newsreel and a song by their names, and one source that nobody catalogued. */
export const EDL = `TITLE: EP01_CUT_260714_V1
FCM: NON-DROP FRAME

001  A001C001 V     C        01:00:00:00 01:00:02:00 01:00:00:00 01:00:02:00
* FROM CLIP NAME: A001C001.MOV
002  AX       V     C        00:00:00:00 00:00:04:00 01:00:02:00 01:00:06:00
* FROM CLIP NAME: NEWSREEL_REGATTA.MOV
003  A001C002 V     C        01:00:00:00 01:00:02:00 01:00:06:00 01:00:08:00
* FROM CLIP NAME: A001C002.MOV
004  AX       V     C        00:00:00:00 00:00:03:00 01:00:08:00 01:00:11:00
* FROM CLIP NAME: PHONE_0417.MP4
005  B001C001 V     C        01:00:00:00 01:00:02:00 01:00:11:00 01:00:13:00
* FROM CLIP NAME: B001C001.MOV
006  AX       A     C        00:00:00:00 00:00:13:00 01:00:00:00 01:00:13:00
* FROM CLIP NAME: LOW_WATER_MIX.WAV
`;

/** A one-page PDF with one line of text (ISO 32000-1 7.5: header, objects, cross-reference table, trailer). */
export function makePdf(words) {
  const text = `BT /F1 14 Tf 60 760 Td (${words.replace(/[()\\]/g, "\\$&")}) Tj ET`;
  const objects = [
    "<< /Type /Catalog /Pages 2 0 R >>",
    "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
    "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R /Resources << /Font << /F1 5 0 R >> >> >>",
    `<< /Length ${text.length} >>\nstream\n${text}\nendstream`,
    "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
  ];
  let file = "%PDF-1.4\n";
  const offsets = objects.map((body, index) => {
    const at = file.length;
    file += `${index + 1} 0 obj\n${body}\nendobj\n`;
    return at;
  });
  const table = file.length;
  file += `xref\n0 ${objects.length + 1}\n0000000000 65535 f \n`;
  for (const at of offsets) file += `${String(at).padStart(10, "0")} 00000 n \n`;
  file += `trailer\n<< /Size ${objects.length + 1} /Root 1 0 R >>\nstartxref\n${table}\n%%EOF\n`;
  return Buffer.from(file, "latin1");
}
