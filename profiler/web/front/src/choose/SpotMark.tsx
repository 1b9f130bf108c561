/** The number of a remark, at its place in a drawing. */

import type { Pair } from "../api/types";

export function SpotMark({ number, at, letter }: { number: number; at: Pair; letter: number }) {
  return (
    <g class="remarked">
      <circle cx={at[0]} cy={at[1]} r={0.8 * letter} />
      <text x={at[0]} y={at[1] + 0.35 * letter} font-size={letter}>
        {number}
      </text>
    </g>
  );
}
