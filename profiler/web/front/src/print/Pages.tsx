/** The real pages, as the printer will lay them on paper. */

import { useState } from "preact/hooks";
import type { PagePicture } from "../api/types";

const AT_ONCE = 12;

export function Pages({ pages }: { pages: readonly PagePicture[] }) {
  const [all, setAll] = useState(false);
  const shown = all ? pages : pages.slice(0, AT_ONCE);
  return (
    <>
      <ol class="pages">
        {shown.map((page) => (
          <li key={page.url}>
            <img
              src={`${page.url}?width=900`}
              alt={`Page ${page.number} of ${page.file}, ${size(page)}`}
              width={Math.round(page.width_mm)}
              height={Math.round(page.height_mm)}
              loading="lazy"
            />
            <span class="small faint">
              {page.number} · {size(page)}
            </span>
          </li>
        ))}
      </ol>
      {shown.length < pages.length && (
        <div>
          <button type="button" onClick={() => setAll(true)}>
            Show all {pages.length} pages
          </button>
        </div>
      )}
    </>
  );
}

function size(page: PagePicture): string {
  return `${Math.round(page.width_mm)} × ${Math.round(page.height_mm)} mm`;
}
