// Still pictures of clips. Each stands in a box of fixed shape, so that nothing moves when it arrives; where there is
// none, or it can't be shown, nothing stands there.
import { useState } from "react";
import styles from "./pictures.module.css";

/** One picture from a clip, in a small box. */
export function Poster({ src, name }: { src: string | null; name: string }) {
  return (
    <span className={styles.poster}>
      <Still src={src} alt={`A picture from ${name}`} width={96} height={54} />
    </span>
  );
}

/** Nine pictures over the length of a clip, or the one there is. */
export function ContactSheet({
  sheet,
  poster,
  name,
}: {
  sheet: string | null;
  poster: string | null;
  name: string;
}) {
  const src = sheet ?? poster;
  if (!src) return null;
  const alt = sheet ? `Nine pictures over the length of ${name}` : `A picture from ${name}`;
  return (
    <a className={styles.sheet} href={src} target="_blank" rel="noreferrer">
      <Still src={src} alt={alt} width={576} height={324} />
    </a>
  );
}

function Still({
  src,
  alt,
  width,
  height,
}: {
  src: string | null;
  alt: string;
  width: number;
  height: number;
}) {
  const [broken, setBroken] = useState<string | null>(null);
  if (!src || broken === src) return null;
  return (
    <img
      src={src}
      alt={alt}
      width={width}
      height={height}
      loading="lazy"
      decoding="async"
      onError={() => setBroken(src)}
    />
  );
}
