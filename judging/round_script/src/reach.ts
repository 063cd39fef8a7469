/** Asks the server, and tells an answer from silence. Only a reply proves a connection. */

import { language } from "./language.ts";

const WAIT_MS = 15_000;

export interface Reply {
  reached: true;
  status: number;
  /** As it came: whoever asks looks before use. */
  body: any;
  etag: string;
  retry_after_s: number;
}

export interface Silence {
  reached: false;
  why: string;
}

function patience(wait_ms: number): AbortSignal {
  if (AbortSignal.timeout) return AbortSignal.timeout(wait_ms);
  const control = new AbortController();
  setTimeout(() => control.abort(), wait_ms);
  return control.signal;
}

/** What a proxy may have made of a request of ours, whole when it was sent. */
const CUT_ON_THE_WAY = "parse-error";

/** @returns why our server refused, by its code; "" where it did not, or something else answered */
export function refusal({ status, body }: Reply): string {
  const code = status >= 400 && typeof body?.code === "string" ? body.code : "";
  return code === CUT_ON_THE_WAY ? "" : code;
}

interface Question {
  token?: string;
  etag?: string;
  /** Sent as JSON. */
  body?: unknown;
  form?: FormData;
  wait_ms?: number;
}

/**
 * Send one request. An answer that is not our server's JSON (the sign-in page of a public
 * network, say) counts as silence.
 */
export async function ask(
  path: string,
  { token = "", etag = "", body, form, wait_ms = WAIT_MS }: Question = {},
): Promise<Reply | Silence> {
  const headers: Record<string, string> = {
    Accept: "application/json",
    "Accept-Language": language(),
  };
  if (token) headers.Authorization = `Bearer ${token}`;
  if (etag) headers["If-None-Match"] = etag;
  if (body !== undefined) headers["Content-Type"] = "application/json";
  try {
    const reply = await fetch(path, {
      method: body === undefined && !form ? "GET" : "POST",
      headers,
      body: form ?? (body === undefined ? undefined : JSON.stringify(body)),
      credentials: "omit",
      cache: "no-store",
      redirect: "error",
      signal: patience(wait_ms),
    });
    return await read(reply);
  } catch (fault) {
    return { reached: false, why: fault instanceof Error ? fault.name : String(fault) };
  }
}

async function read(reply: Response): Promise<Reply | Silence> {
  const found = {
    reached: true as const,
    status: reply.status,
    body: null,
    etag: reply.headers.get("ETag") ?? "",
    retry_after_s: Number(reply.headers.get("Retry-After")) || 0,
  };
  if (reply.status === 304) return found;
  const kind = reply.headers.get("Content-Type") ?? "";
  if (/\bapplication\/([\w.-]+\+)?json\b/.test(kind)) {
    return { ...found, body: await reply.json() };
  }
  if (reply.ok) return { reached: false, why: "not our server" };
  return found;
}

/** Fetch one picture of the server; anything else fails. */
export async function fetchPicture(path: string, token: string): Promise<Blob> {
  const reply = await fetch(path, {
    headers: { Authorization: `Bearer ${token}` },
    credentials: "omit",
    cache: "no-store",
    redirect: "error",
    signal: patience(WAIT_MS),
  });
  const kind = reply.headers.get("Content-Type") ?? "";
  if (!reply.ok || !kind.startsWith("image/")) throw new Error(`No picture: ${reply.status}`);
  return reply.blob();
}
