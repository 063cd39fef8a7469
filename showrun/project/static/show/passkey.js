/**
 * A form marked `data-passkey` asks the browser for a passkey before it is sent: it fetches its
 * question from `data-question`, lets the device make or use a passkey ("add" or "sign in"), puts
 * the answer into its field `credential` and goes on as any form does. What it says of a fault stands
 * in its `data-said-...`, in the reader's language. It stays hidden where the browser has no passkeys; without this script the link by e-mail is there.
 */

const LONG_WAIT_MS = 15_000;
/** @param {string} text base64url @returns {Uint8Array} */
const bytes = (text) =>
  Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));

/** @param {ArrayBuffer | null | undefined} buffer @returns {string | null} base64url */
const text = (buffer) =>
  buffer
    ? btoa(String.fromCharCode(...new Uint8Array(buffer)))
        .replaceAll("+", "-")
        .replaceAll("/", "_")
        .replaceAll("=", "")
    : null;

const known = (listed = []) => listed.map((one) => ({ ...one, id: bytes(one.id) }));

/** What the device is asked, from the question as it came over the wire. */
const question = (said) => ({
  ...said,
  challenge: bytes(said.challenge),
  ...(said.user && { user: { ...said.user, id: bytes(said.user.id) } }),
  ...(said.excludeCredentials && { excludeCredentials: known(said.excludeCredentials) }),
  ...(said.allowCredentials && { allowCredentials: known(said.allowCredentials) }),
});

/** The device's answer as it goes over the wire. @param {PublicKeyCredential} given */
function answer(given) {
  const { response } = given;
  const said = { clientDataJSON: text(response.clientDataJSON) };
  if (response instanceof AuthenticatorAttestationResponse) {
    said.attestationObject = text(response.attestationObject);
    said.transports = response.getTransports?.() ?? [];
  } else {
    said.authenticatorData = text(response.authenticatorData);
    said.signature = text(response.signature);
    said.userHandle = text(response.userHandle);
  }
  return JSON.stringify({ id: given.id, rawId: text(given.rawId), type: given.type, response: said });
}

/** @param {HTMLFormElement} form */
async function ask(form) {
  const got = await fetch(form.dataset.question, {
    method: "POST",
    headers: {
      Accept: "application/json",
      "X-CSRFToken": form.elements.namedItem("csrfmiddlewaretoken").value,
    },
    signal: AbortSignal.timeout(LONG_WAIT_MS),
  });
  const isJson = got.headers.get("Content-Type")?.startsWith("application/json");
  if (!isJson) throw new Error(form.dataset.saidElsewhere);
  const said = await got.json();
  if (!got.ok) throw new Error(said.detail);
  const publicKey = question(said);
  return form.dataset.passkey === "add"
    ? navigator.credentials.create({ publicKey })
    : navigator.credentials.get({ publicKey });
}

/** @param {HTMLFormElement} form */
function serve(form) {
  const words = form.querySelector("[data-passkey-words]");
  const button = form.querySelector("button[type=submit]");
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    button.disabled = true;
    words.hidden = true;
    try {
      const given = await ask(form);
      form.elements.namedItem("credential").value = answer(given);
      form.submit();
    } catch (fault) {
      words.textContent = form.getAttribute(`data-said-${fault.name.toLowerCase()}`) ?? fault.message;
      words.hidden = false;
      button.disabled = false;
    }
  });
}

if (window.PublicKeyCredential && navigator.credentials) {
  document.querySelectorAll("form[data-passkey]").forEach(serve);
  document.querySelectorAll("[data-passkey-none]").forEach((note) => {
    note.hidden = true;
  });
}
// A page brought back from the browser's memory has a button that waits for an answer it had.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});
