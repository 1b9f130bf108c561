/** The case from the front, closed: base, lid, hardware; what does not fit, drawn over it. */

import type { Plan, Units } from "../api/types";
import { shown } from "../kit/lengths";
import type { Misfit } from "./misfit";
import type { Spot } from "./remarked";
import { SpotMark } from "./SpotMark";

interface Props {
  plan: Plan;
  units: Units;
  misfit: Misfit | null;
  /** what the remarks below speak of */
  spots: readonly Spot[];
}

export function FrontDrawing({ plan, units, misfit, spots }: Props) {
  const length = plan.box.outside[0];
  const { base, lid } = plan.box;
  const high = base + lid;
  const { hardware } = plan.wishes;
  const leaves = misfit?.leaves ?? null;
  const room = Math.max(
    24,
    (leaves?.upper ?? 0) - lid + 12,
    (leaves?.lower ?? 0) - base + 12,
    (misfit?.lid ?? 0) - high + 12,
  );
  // up in the case, down on the screen
  const rect = (x: number, low: number, width: number, top: number) => ({
    x,
    y: high - top,
    width,
    height: top - low,
  });
  const on = (kind: string, board: string) =>
    plan.fittings.filter((f) => f.kind === kind && f.board === board);
  const words =
    `Case from the front: ${shown(length, units)} long, base ${shown(base, units)},` +
    ` lid ${shown(lid, units)} high.` +
    (misfit ? " What was wished for and does not fit is drawn over it." : "");
  const across = (width: number) => (f: { u: number }) => f.u - width / 2;
  const latchX = across(hardware.width);
  return (
    <svg
      class="plan front"
      viewBox={`${-room} ${-room} ${length + 2 * room} ${high + 2 * room}`}
      role="img"
      aria-label={words}
    >
      <rect class="inside" {...rect(0, 0, length, base)} />
      <rect class="inside" {...rect(0, base, length, high)} />
      {on("latch", "front").map((f, n) => (
        <rect
          key={n}
          class="hardware"
          {...rect(latchX(f), base - hardware.latch_lower, hardware.width, base + hardware.latch_upper)}
        />
      ))}
      {on("handle", "front").map((f, n) => (
        <rect key={n} class="hardware" {...rect(across(hardware.handle)(f), f.v - 9, hardware.handle, f.v + 9)} />
      ))}
      {leaves && (
        <g class="misfit">
          {on(leaves.kind, leaves.kind === "latch" ? "front" : "back").map((f, n) => (
            <rect key={n} {...rect(latchX(f), base - leaves.lower, hardware.width, base + leaves.upper)} />
          ))}
        </g>
      )}
      {misfit?.lid != null && (
        <g class="misfit">
          <rect {...rect(0, high - misfit.lid, length, high)} />
        </g>
      )}
      {spots.map((s, n) => (
        <SpotMark key={n} number={s.number} at={[s.at[0], high - s.at[1]]} letter={length / 42} />
      ))}
      {misfit?.wide && (
        <g class="misfit">
          {on(misfit.wide.kind, "front").map((f, n) => (
            <rect key={n} {...rect(across(misfit.wide!.width)(f), base - 20, misfit.wide!.width, base + 14)} />
          ))}
        </g>
      )}
    </svg>
  );
}
