/** Files to take away: PDF first, then what other programs open. */

import type { Kind, MadeFile } from "../api/types";
import { Icon } from "../kit/icons";

const ORDER: readonly Kind[] = ["pdf", "svg", "dxf", "csv", "json", "jpg"];

export function Files({ files }: { files: readonly (MadeFile & { stale?: boolean })[] }) {
  const sorted = [...files].sort(
    (a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind) || a.name.localeCompare(b.name),
  );
  const main = sorted.length <= 4 ? sorted : sorted.filter((file) => file.kind === "pdf");
  const rest = sorted.filter((file) => !main.includes(file));
  return (
    <>
      <List files={main} />
      {rest.length > 0 && (
        <details>
          <summary>
            {rest.length} more files: {[...new Set(rest.map((f) => f.kind.toUpperCase()))].join(", ")}
          </summary>
          <List files={rest} />
        </details>
      )}
    </>
  );
}

function List({ files }: { files: readonly (MadeFile & { stale?: boolean })[] }) {
  return (
    <ul class="files">
      {files.map((file) => (
        <li key={file.url}>
          <a href={file.url} download={file.name.split("/").at(-1)} class="button">
            <Icon sign="down" /> <span dir="auto">{file.name}</span>
          </a>
          <span class="small faint">
            {file.bytes ? bytes(file.bytes) : ""}
            {file.stale ? ", from before the last change" : ""}
          </span>
          {file.kind === "pdf" && (
            <a class="button" href={`${file.url}${file.url.includes("?") ? "&" : "?"}inline=1`} target="_blank" rel="noopener">
              Open to print<span class="unseen"> {file.name}</span>
            </a>
          )}
        </li>
      ))}
    </ul>
  );
}

function bytes(n: number): string {
  return n < 1e6 ? `${Math.max(1, Math.round(n / 1e3))} kB` : `${(n / 1e6).toFixed(1)} MB`;
}
