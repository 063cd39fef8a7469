/** Asks the server, and tells an answer from silence. Only a reply proves a connection. */

const WAIT_MS = 15_000;

/**
 * @typedef {{reached: true, status: number, body: any, etag: string, retry_after_s: number}} Reply
 * @typedef {{reached: false, why: string}} Silence
 */

/** @returns {AbortSignal} */
function patience() {
  if (AbortSignal.timeout) return AbortSignal.timeout(WAIT_MS);
  const control = new AbortController();
  setTimeout(() => control.abort(), WAIT_MS);
  return control.signal;
}

/**
 * Send one request. An answer that is not our server's JSON (the sign-in page of a public
 * network, say) counts as silence.
 *
 * @param {string} path
 * @param {{token?: string, etag?: string, body?: unknown}} [options]
 * @returns {Promise<Reply | Silence>}
 */
export async function ask(path, { token = "", etag = "", body } = {}) {
  /** @type {Record<string, string>} */
  const headers = { Accept: "application/json" };
  if (token) headers.Authorization = `Bearer ${token}`;
  if (etag) headers["If-None-Match"] = etag;
  if (body !== undefined) headers["Content-Type"] = "application/json";
  try {
    const reply = await fetch(path, {
      method: body === undefined ? "GET" : "POST",
      headers,
      body: body === undefined ? undefined : JSON.stringify(body),
      credentials: "omit",
      cache: "no-store",
      redirect: "error",
      signal: patience(),
    });
    return await read(reply);
  } catch (fault) {
    return { reached: false, why: fault instanceof Error ? fault.name : String(fault) };
  }
}

/**
 * @param {Response} reply
 * @returns {Promise<Reply | Silence>}
 */
async function read(reply) {
  const found = {
    reached: /** @type {const} */ (true),
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
