/** The server's other doors: edits made online, with the server's refusals as sentences' worth of fields. */

import { isKeyRefused, session } from "@/store/state.ts";

/** A refusal of the server, or of the way to it (code "unreachable"). */
export class Problem extends Error {
  readonly code: string;
  readonly detail: string;
  readonly field: string;
  readonly value: unknown;
  readonly limit: string;
  readonly status: number;
  /** With code "stale_edit": the record as it stands now. */
  readonly current: unknown;

  constructor(status: number, told: Record<string, unknown>) {
    super(String(told["detail"] ?? told["title"] ?? told["code"] ?? status));
    this.status = status;
    this.code = String(told["code"] ?? `status_${status}`);
    this.detail = String(told["detail"] ?? told["title"] ?? "");
    this.field = String(told["field"] ?? "");
    this.value = told["value"];
    this.limit = String(told["limit"] ?? "");
    this.current = told["current"];
  }
}

type Method = "GET" | "POST" | "PUT" | "DELETE";

async function told(reply: Response): Promise<Record<string, unknown>> {
  try {
    return (await reply.json()) as Record<string, unknown>;
  } catch {
    return {};
  }
}

/** Send one request as this device; never cached, never retried here. */
export async function call(method: Method, path: string, body?: BodyInit | null, headers: HeadersInit = {}): Promise<Response> {
  const token = session.value?.token;
  const all = { ...(token === undefined ? {} : { Authorization: `Bearer ${token}` }), ...headers };
  try {
    return await fetch(path, { method, body: body ?? null, headers: all, cache: "no-store", credentials: "omit" });
  } catch {
    throw new Problem(0, { code: "unreachable" });
  }
}

async function answer<T>(reply: Response): Promise<T> {
  if (reply.status === 401 && session.value !== null) isKeyRefused.value = true;
  if (!reply.ok) throw new Problem(reply.status, await told(reply));
  if (reply.status === 204) return undefined as T;
  return (await reply.json()) as T;
}

const JSON_HEADERS = { "Content-Type": "application/json" };

export const get = async <T>(path: string): Promise<T> => answer<T>(await call("GET", path));
export const put = async <T>(path: string, body: unknown): Promise<T> =>
  answer<T>(await call("PUT", path, JSON.stringify(body), JSON_HEADERS));
export const post = async <T>(path: string, body: unknown = {}, headers: HeadersInit = {}): Promise<T> =>
  answer<T>(await call("POST", path, JSON.stringify(body), { ...JSON_HEADERS, ...headers }));
/** Send a file as it is: a course or a table of weather. */
export const postFile = async <T>(path: string, file: Blob | string, type: string): Promise<T> =>
  answer<T>(await call("POST", path, file, { "Content-Type": type }));
