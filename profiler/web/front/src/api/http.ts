/** Requests to our own server, and its refusals as errors with a sentence. */

export class Refusal extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    message: string,
    readonly detail: Readonly<Record<string, unknown>> = {},
  ) {
    super(message);
  }
}

const AWAY =
  "The program does not answer. Is 'profiler serve' still running? Nothing that was kept is lost.";

export async function request<T>(
  method: string,
  path: string,
  body?: unknown,
  signal?: AbortSignal,
): Promise<T> {
  const headers: Record<string, string> = {};
  if (method !== "GET") headers["X-Profiler"] = "1";
  let sent: BodyInit | undefined;
  if (body instanceof Blob) {
    sent = body;
    headers["Content-Type"] = "application/octet-stream";
  } else if (body !== undefined) {
    sent = JSON.stringify(body);
    headers["Content-Type"] = "application/json";
  }
  let answer: Response;
  try {
    answer = await fetch(path, { method, headers, body: sent ?? null, signal: signal ?? null });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Refusal(0, "away", AWAY);
  }
  if (answer.status === 204) return undefined as T;
  const said: unknown = await answer.json().catch(() => null);
  if (!answer.ok) throw refusalFrom(answer.status, said);
  return said as T;
}

function refusalFrom(status: number, said: unknown): Refusal {
  const error = (said as { error?: Record<string, unknown> } | null)?.error;
  const code = typeof error?.code === "string" ? error.code : "fault";
  const message =
    typeof error?.message === "string" ? error.message : `The program answered ${status}.`;
  return new Refusal(status, code, message, error ?? {});
}

/** Sends a file and tells how much of it has gone; `fetch` cannot. */
export function upload<T>(
  path: string,
  file: Blob,
  told: (share: number) => void,
  signal?: AbortSignal,
): Promise<T> {
  return new Promise((resolve, reject) => {
    const sending = new XMLHttpRequest();
    sending.open("POST", path);
    sending.setRequestHeader("X-Profiler", "1");
    sending.setRequestHeader("Content-Type", "application/octet-stream");
    sending.responseType = "json";
    sending.upload.onprogress = (event) => {
      if (event.lengthComputable) told(event.loaded / event.total);
    };
    sending.onload = () => {
      if (sending.status >= 200 && sending.status < 300) resolve(sending.response as T);
      else reject(refusalFrom(sending.status, sending.response));
    };
    sending.onerror = () => reject(new Refusal(0, "away", AWAY));
    sending.onabort = () => reject(new Refusal(0, "cancelled", "Sending was stopped."));
    signal?.addEventListener("abort", () => sending.abort());
    sending.send(file);
  });
}

export const part = encodeURIComponent;
