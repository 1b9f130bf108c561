/** What the server says and takes. Lengths in mm; a `Text` length is as a person typed it. */

export type Units = "mm" | "in";
export type Pair = [number, number];
/** A length as typed: "3mm", "1/8in", "12". */
export type Text = string;

export interface Quantity {
  value: number | null;
  u95: number | null;
  reason: string;
  mostly: string;
  x?: number | null;
  /** ready to show */
  mm: string;
  in: string;
}

export interface Work {
  kind: string;
  words: string;
  share: number;
}

export interface Bars {
  x: { nominal: number; read: number | null };
  y: { nominal: number; read: number | null };
}
export interface Mat {
  paper: string;
  sheets: number;
  width: number;
  height: number;
  tint: string;
  bars: Bars;
}
export interface Cards {
  paper?: string;
  thickness: number;
  bars: Bars;
}

export interface Settings {
  units: Units;
  inch_step: number;
  paper: string;
  printer: string | null;
  tour: "new" | "running" | "done";
  look: "auto" | "light" | "dark";
}

export interface State {
  version: string;
  folder: string;
  client: "bench" | "phone";
  lan: { on: boolean; phones: number };
  settings: Settings;
  papers: string[];
  card_papers: string[];
  tints: Record<string, string>;
  parts: string[];
  mat: Mat | null;
  cards: Cards | null;
  upright?: Mat | null;
  sample: boolean;
  archive: { shown: string };
}

export type JobState = "empty" | "ready" | "measured" | "failed";

export interface Short {
  id: string;
  name: string;
  customer: string;
  state: JobState;
  revision: number;
  changed: string;
  sample: boolean;
  length: Quantity | null;
  counts: { doubt: number; caution: number; note: number };
  thumbnail: string | null;
  /** mm, for a small picture; the head to the right */
  shape?: Pair[] | null;
  photo_small?: string | null;
  work: Work | null;
}

export interface CheckPoint {
  what: string;
  ok: boolean | null;
  weight: "stop" | "better" | "good";
  message: string;
  /** the one thing to do; "" where there is none */
  do?: string;
  /** rings, in shares of the upright picture */
  places?: Pair[][];
}
export interface Check {
  ok: boolean;
  /** the most urgent thing to do */
  first?: string | null;
  points: CheckPoint[];
  from_side?: boolean;
}
export interface Photo {
  name: string;
  said: string;
  /** px; null until it was looked at */
  width: number | null;
  height: number | null;
  phone: string;
  url: string;
  small: string | null;
  check: Check | null;
  /** it is the view from the side */
  side?: boolean;
}
export type Kind = "pdf" | "svg" | "dxf" | "json" | "csv" | "jpg";
export interface JobFile {
  name: string;
  bytes: number;
  kind: Kind;
  stale: boolean;
  url: string;
}

export type NewCorrection =
  | { kind: "move"; at: Pair; to: Pair; reach_mm: number }
  | { kind: "redraw"; path: Pair[]; snap: boolean }
  | { kind: "exclude"; area: Pair[] }
  | { kind: "height"; part: string; height: Text | null; u95?: Text };
export type Correction = NewCorrection & { words: string };

export interface Job extends Short {
  photos: Photo[];
  problem: { code: string; message: string } | null;
  /** the results belong to other photos than are there now */
  outdated?: boolean;
  /** why the last correction was not taken */
  refused?: string | null;
  /** where that was, px of the view */
  refused_at?: Pair[];
  accept_crop: boolean;
  units: Units;
  mat: Mat | null;
  cards: Cards | null;
  heights: Record<string, { mm: number; u95: number | null }>;
  can: { measure: boolean; correct: boolean; template: boolean; case: boolean };
  corrections: { done: Correction[]; redo: string | null };
  used: string[];
  files: JobFile[];
}

export type Level = "doubt" | "caution" | "note";
export interface Finding {
  code: number;
  level: Level;
  message: string;
  where: string;
}
export interface Row extends Quantity {
  key: string;
  label: string;
}
export interface PartHeight extends Quantity {
  part: string;
  label: string;
  source: string;
  typed: boolean;
}
export interface Measurement {
  revision: number;
  rows: Row[];
  findings: Finding[];
  heights: PartHeight[];
  outline: Pair[];
  u95: number[];
  part: string[];
  doubtful: { start: number; end: number; reason: string }[];
  symmetric: boolean | null;
  side?: SideView | null;
}
/** x, height and its ± in mm, and what it is */
export type SideRow = [number, number, number, string];
export interface SideView {
  photo: string;
  thickest: Quantity;
  from: number;
  to: number;
  upper: SideRow[];
  lower: SideRow[];
}

type Matrix = [[number, number, number], [number, number, number], [number, number, number]];
export interface Camera {
  centre: [number, number, number];
  rays: Matrix;
  px: Matrix;
}
export interface Edge {
  points: Pair[];
  z: number[];
  part: string[];
  how: string[];
  doubtful: boolean[];
  u95: number[];
}
export interface Station extends Quantity {
  key: string;
  label: string;
  ends: [Pair, Pair];
}
export interface PhotoView {
  revision: number;
  size: Pair;
  image: string;
  small: string;
  camera: Camera;
  frame: { angle_rad: number; origin: Pair } | null;
  edge: Edge | null;
  centreline: [Pair, Pair] | null;
  stations: Station[];
  cards: { name: string; corners: Pair[]; z: number }[];
  sheets: { name: string; corners: Pair[] }[];
  /** at the body's height; null without an outline */
  px_per_mm: number | null;
  /** refusals and findings that have a place */
  marks: Mark[];
}
export interface Mark {
  level: "stop" | Level;
  code: number | null;
  message: string;
  lines: Pair[][];
  closed: boolean;
}

export interface MadeFile {
  name: string;
  bytes: number;
  kind: Kind;
  url: string;
}
export interface PagePicture {
  file: string;
  number: number;
  width_mm: number;
  height_mm: number;
  url: string;
}
export interface Made {
  token: string;
  files: MadeFile[];
  pages: PagePicture[];
  messages: string[];
  findings: Finding[];
}

export interface Option {
  name: string;
  label: string;
  help: string;
  kind: "length" | "pair" | "mass" | "choice" | "flag" | "number" | "text" | "list";
  choices?: string[];
  default: { mm: string; in: string } | null;
}
export interface OptionGroup {
  label: string;
  options: Option[];
}
export interface Fitting {
  kind: string;
  board: string;
  u: number;
  v: number;
}
export interface Plan {
  instrument: { length: number; width: number; height: number; tail_at: Pair; outline: Pair[] };
  box: {
    inside: [number, number, number];
    outside: [number, number, number];
    /** from below, lower and upper edge */
    saw_cut: Pair;
    lid: number;
    base: number;
  };
  fittings: Fitting[];
  compartments: { side: string; from: number; to: number; width: number; useful: Pair }[];
  stations: { name: string; x: number; room: number; lift: number }[];
  wishes: { boards: { thickness: number }; walls: { thickness: number }; room: { lining: number }; hardware: Hardware };
}
export interface Hardware {
  latch_upper: number;
  latch_lower: number;
  hinge_upper: number;
  hinge_lower: number;
  width: number;
  handle: number;
}
export interface Place {
  box: [number, number, number, number];
  words: string;
  over: number | null;
}
export interface CaseMade extends Made {
  summary: [string, string][];
  drawings: { name: string; label: string; url: string }[];
  plan: Plan;
  where?: Place[];
  stations?: { key: string; label: string; x: number; section: Pair[] | null; reason: string }[];
}

export interface Printer {
  name: string;
  paper: string;
  x: number;
  y: number;
  nominal: { x: number; y: number };
  correction: { x: number; y: number };
  words: string;
}

export interface Entry {
  number: string;
  instrument: number;
  name: string;
  customer: string;
  maker: string;
  kind: string;
  tags: string[];
  notes: string;
  length: Quantity | number | null;
  measured: string;
  revisions: { number: string; measured: string; note: string }[];
  thumbnail: string | null;
  shape?: Pair[] | null;
}
export interface FullEntry extends Entry {
  rows: Row[];
  findings: Finding[];
  outline: Pair[];
  files: { role: string; name: string }[];
}
export interface Found extends Entry {
  largest?: number;
  mean?: number;
  mirrored?: boolean;
  room?: number;
}
export interface Compared extends Made {
  verdict: string;
  parts: { part: string; along: number; sideways: number; u95: number; moved: boolean }[];
  numbers: {
    name: string;
    before: number | null;
    now: number | null;
    difference: number | null;
    u95: number | null;
    exceeds: boolean;
  }[];
}

/** A ring or a line of points, mm. */
export type Ring = Pair[];
export interface CradleStation {
  key: string;
  label: string;
  /** mm from the tail, of its middle */
  x: number;
  low: number;
  high: number;
  made: boolean;
  /** the user put it there */
  own: boolean;
}
export interface CradlePlace {
  key: string;
  name: string;
  reason: string;
  /** x, y, x, y */
  box: [number, number, number, number];
}
export interface CradleCut {
  key: string;
  name: string;
  x: number;
  box: [number, number, number, number];
  wood: Ring[];
  instrument: Ring[];
  lining: number;
  kind: string;
  bears: boolean;
}
export interface CradleView {
  length: number;
  outline: Ring;
  stations: CradleStation[];
  places: CradlePlace[];
  cuts: CradleCut[];
  neck: {
    reason: string;
    at: number[];
    profiles: Ring[];
    sections: { name: string; x: number; source: string; detail: string }[];
  };
}
export interface Contact {
  lining: string;
  thickness: number;
  gives: number;
  clearance: number;
  bears: boolean;
}
export interface CradlePlan {
  lift: { mm: number };
  berth: { source: string; tail: number; head: number; right: number; left: number };
  contacts: Record<string, Contact>;
  pieces: { name: string; upright: boolean; thickness: number; stock: string; shape: Ring; span: Pair }[];
  not_made: { piece: string; reason: string }[];
}
export interface CradleMade extends Made {
  plan: CradlePlan;
  view: CradleView;
}
export interface FitMade extends CradleMade {
  summary: [string, string][];
  drawings: { name: string; label: string; url: string }[];
  fit?: { heads: string[]; rows: string[][]; play: string[] };
  cautions?: string[];
}
export interface ShapeSection {
  name: string;
  x: number;
  source: string;
  detail: string;
  width: Quantity;
  depth: Quantity;
  face_height: Quantity;
  points: Ring;
  findings: Finding[];
}
export interface Shape {
  revision: number;
  sections: ShapeSection[];
  headstock: {
    tilt: { value: number | null; u95: number | null; reason: string };
    thickness: Quantity;
    lowest_wood: Quantity;
    lowest: Quantity;
    edge: Quantity;
  } | null;
  neck: Pair | null;
  shapes: string[];
  undo: string | null;
  redo: string | null;
}
