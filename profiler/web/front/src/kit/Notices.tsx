import { notices, spoken, unsay } from "../state/notices";
import { away } from "../state/store";
import { Icon } from "./icons";

export function Notices() {
  return (
    <>
      <div class="unseen" role="status" aria-live="polite">
        {spoken.value}
      </div>
      <div class="notices" role="region" aria-label="Notices">
        {away.value && (
          <div class="notice trouble" role="alert">
            The program does not answer. Is “profiler serve” still running? The page goes on by itself
            when it is back; nothing that was kept is lost.
          </div>
        )}
        {notices.value.map((notice) => (
          <div
            key={notice.id}
            class={notice.trouble ? "notice trouble" : "notice"}
            role={notice.trouble ? "alert" : "status"}
          >
            <span>{notice.words}</span>
            <button type="button" class="quiet" aria-label="Dismiss" onClick={() => unsay(notice.id)}>
              <Icon sign="close" />
            </button>
          </div>
        ))}
      </div>
    </>
  );
}
