/** Signs drawn with one pencil: 24 × 24, stroke 2. */

const DRAWN = {
  hand: "M4 13l8-8 8 8M12 5v15M4 20h16",
  pan: "M12 3v18M3 12h18M12 3l-3 3m3-3l3 3M12 21l-3-3m3 3l3-3M3 12l3-3m-3 3l3 3M21 12l-3-3m3 3l-3 3",
  move: "M3 17c4 0 5-9 9-9s5 9 9 9M12 8V2m0 0L9 5m3-3l3 3",
  redraw: "M3 18c5-1 5-6 9-7M13 13l8-9M13 13l-1 3 3-1z",
  exclude: "M5 8c3-6 11-6 14 0s-2 12-7 12S3 14 5 8zM8 8l8 8M16 8l-8 8",
  plus: "M12 4v16M4 12h16",
  minus: "M4 12h16",
  whole: "M4 9V4h5M20 9V4h-5M4 15v5h5M20 15v5h-5",
  undo: "M8 5L4 9l4 4M4 9h10c8 0 8 10 0 10h-3",
  redo: "M16 5l4 4-4 4M20 9H10c-8 0-8 10 0 10h3",
  down: "M12 3v13M6 11l6 6 6-6M4 21h16",
  camera: "M3 8h4l2-3h6l2 3h4v11H3zM12 10a3.5 3.5 0 100 7 3.5 3.5 0 000-7z",
  sun: "M12 8a4 4 0 100 8 4 4 0 000-8zM12 2v3m0 14v3M2 12h3m14 0h3M5 5l2 2m10 10l2 2M19 5l-2 2M7 17l-2 2",
  lamp: "M8 3h8l4 8H4zM12 11v8M7 21h10M12 19v2",
  search: "M10 4a6 6 0 100 12 6 6 0 000-12zM15 15l6 6",
  close: "M5 5l14 14M19 5L5 19",
  numbers: "M3 7h18v10H3zM7 7v5m4-5v3m4-3v5m4-5v3",
} as const;

export type Sign = keyof typeof DRAWN;

export function Icon({ sign }: { sign: Sign }) {
  return (
    <svg viewBox="0 0 24 24" aria-hidden="true" focusable="false">
      <path d={DRAWN[sign]} fill="none" stroke="currentColor" stroke-width="2" stroke-linecap="square" />
    </svg>
  );
}
