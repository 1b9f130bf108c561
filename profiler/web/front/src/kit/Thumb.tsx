/** An outline in the size of a thumb, the head to the right; a photo where there is none yet. */

import type { Pair } from "../api/types";

interface Props {
  shape?: readonly Pair[] | null | undefined;
  drawn?: string | null | undefined;
  photo?: string | null | undefined;
}

export function Thumb({ shape, drawn, photo }: Props) {
  if (shape && shape.length > 2) return <Outline shape={shape} />;
  const picture = drawn ?? photo;
  if (picture) return <img src={picture} alt="" loading="lazy" />;
  return <span class="no-picture" aria-hidden="true" />;
}

function Outline({ shape }: { shape: readonly Pair[] }) {
  const xs = shape.map((p) => p[0]);
  const ys = shape.map((p) => p[1]);
  const [x0, x1] = [Math.min(...xs), Math.max(...xs)];
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const room = 0.03 * (x1 - x0);
  const path = shape.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y0 + y1 - y}`).join("") + "Z";
  return (
    <svg
      class="thumb"
      viewBox={`${x0 - room} ${y0 - room} ${x1 - x0 + 2 * room} ${y1 - y0 + 2 * room}`}
      aria-hidden="true"
    >
      <path d={path} vector-effect="non-scaling-stroke" />
    </svg>
  );
}
