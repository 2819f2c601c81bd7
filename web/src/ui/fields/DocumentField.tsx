// The scan of a paper: dropped or chosen, sent at once with progress, kept by its content.
import { Button, Progress } from "@mantine/core";
import { useId, useRef, useState } from "react";
import { ApiError, problemToError } from "../../api/client";
import { showBytes } from "../../words/dates";
import styles from "./fields.module.css";

const LIMIT = 25_000_000;
const TYPES = ["application/pdf", "image/jpeg", "image/png"];

interface Uploaded {
  id: string;
  name: string;
  size: number;
}

export const documentPath = (series: string, id: string) => `/api/series/${series}/documents/${id}`;

/** Sends one file with progress; rejects with an `ApiError`. `fetch` cannot tell how much has gone, so XHR. */
export function sendFile<T>(
  method: "PUT" | "POST",
  path: string,
  file: Blob,
  type: string,
  onProgress: (sent: number) => void,
  signal?: AbortSignal,
): Promise<T> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open(method, path);
    request.setRequestHeader("X-Waybill", "1");
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("Content-Type", type);
    request.upload.onprogress = (event) => onProgress(event.loaded);
    request.onload = () => {
      let body: unknown;
      try {
        body = JSON.parse(request.responseText);
      } catch {
        body = {};
      }
      if (request.status >= 200 && request.status < 300) resolve(body as T);
      else reject(problemToError(request.status, body as Record<string, never>));
    };
    request.onerror = () =>
      reject(
        new ApiError(
          0,
          "unavailable",
          "The file did not arrive",
          "The connection broke. Send it again.",
        ),
      );
    request.onabort = () => reject(new ApiError(0, "bad_request", "Stopped", "Nothing was kept."));
    signal?.addEventListener("abort", () => request.abort());
    request.send(file);
  });
}

export function DocumentField({
  series,
  label,
  value,
  onChange,
  help,
  error,
}: {
  series: string;
  label: string;
  value: string | null;
  onChange: (value: string | null) => void;
  help?: string | undefined;
  error?: string | null | undefined;
}) {
  const upload = useUpload(series, onChange);
  return (
    <div>
      <UploadBox
        label={label}
        accept={TYPES.join(",")}
        hint={value ? "Drop another to replace it." : "Drop a PDF, JPEG or PNG here, up to 25 MB."}
        busy={upload.sent !== null}
        onFile={upload.start}
      >
        {value && upload.sent === null && (
          <>
            <a href={documentPath(series, value)} download>
              {upload.done?.id === value ? upload.done.name : "the scan that is kept"}
            </a>
            <Button variant="default" size="compact-sm" onClick={() => onChange(null)}>
              Take the scan off
            </Button>
          </>
        )}
        {upload.sent !== null && upload.file && (
          <div className={styles.grow}>
            <Progress
              value={(100 * upload.sent) / upload.file.size}
              aria-label={`Sending ${upload.file.name}`}
            />
            <output className="small">
              {showBytes(upload.sent)} of {showBytes(upload.file.size)}
            </output>
            <Button variant="default" size="compact-sm" onClick={upload.stop}>
              Stop
            </Button>
          </div>
        )}
      </UploadBox>
      {help && <p className={styles.under}>{help}</p>}
      {(upload.fault ?? error) && (
        <p role="alert" className={styles.fault}>
          {upload.fault ?? error}
        </p>
      )}
    </div>
  );
}

function useUpload(series: string, onChange: (id: string) => void) {
  const [file, setFile] = useState<File | null>(null);
  const [sent, setSent] = useState<number | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [done, setDone] = useState<Uploaded | null>(null);
  const abort = useRef<AbortController | null>(null);

  const start = async (chosen: File) => {
    setFault(null);
    if (!TYPES.includes(chosen.type)) {
      setFault(`“${chosen.name}” is not a PDF, JPEG or PNG. Nothing was sent.`);
      return;
    }
    if (chosen.size > LIMIT) {
      setFault(
        `“${chosen.name}” is ${showBytes(chosen.size)}; the limit is 25 MB. Nothing was sent.`,
      );
      return;
    }
    setFile(chosen);
    setSent(0);
    abort.current = new AbortController();
    const path = `/api/series/${series}/documents?name=${encodeURIComponent(chosen.name)}`;
    try {
      const kept = await sendFile<Uploaded>(
        "PUT",
        path,
        chosen,
        chosen.type,
        setSent,
        abort.current.signal,
      );
      setDone(kept);
      onChange(kept.id);
    } catch (error) {
      setFault(`“${chosen.name}” was not kept. ${error instanceof Error ? error.message : ""}`);
    } finally {
      setSent(null);
    }
  };
  return { file, sent, fault, done, start, stop: () => abort.current?.abort() };
}

/** A place to drop a file on, with a button that does the same. */
export function UploadBox({
  label,
  hint,
  accept,
  busy = false,
  onFile,
  children,
}: {
  label: string;
  hint: string;
  accept?: string;
  busy?: boolean;
  onFile: (file: File) => void;
  children?: React.ReactNode;
}) {
  const input = useRef<HTMLInputElement>(null);
  const id = useId();
  const [over, setOver] = useState(false);
  return (
    <fieldset
      aria-labelledby={id}
      className={styles.drop}
      data-over={over || undefined}
      onDragOver={(event) => {
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        const file = event.dataTransfer.files[0];
        if (file && !busy) onFile(file);
      }}
    >
      <span id={id} className="visually-hidden">
        {label}
      </span>
      <Button variant="default" size="xs" disabled={busy} onClick={() => input.current?.click()}>
        {label} …
      </Button>
      <input
        ref={input}
        type="file"
        accept={accept}
        hidden
        onChange={(event) => {
          const file = event.currentTarget.files?.[0];
          event.currentTarget.value = "";
          if (file) onFile(file);
        }}
      />
      <span className="quiet small">{hint}</span>
      {children}
    </fieldset>
  );
}
