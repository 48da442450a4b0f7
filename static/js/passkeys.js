// Passkeys: the browser makes one, or signs in by one. Without a script nothing of it is shown: the password does.

/** Bytes of what JSON has in base64url, and back. */
const bytes = (text) => Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (sign) => sign.charCodeAt(0));
const written = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");

/** The options as the browser takes them. */
function taken(options) {
  const list = (all = []) => all.map((one) => ({ ...one, id: bytes(one.id) }));
  const whole = { ...options, challenge: bytes(options.challenge) };
  if (options.user) whole.user = { ...options.user, id: bytes(options.user.id) };
  if (options.excludeCredentials) whole.excludeCredentials = list(options.excludeCredentials);
  if (options.allowCredentials) whole.allowCredentials = list(options.allowCredentials);
  return { publicKey: whole };
}

/** What the browser gave, as JSON. */
function told(credential) {
  const response = {};
  for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
    if (credential.response[name]) response[name] = written(credential.response[name]);
  }
  return JSON.stringify({ id: credential.id, rawId: written(credential.rawId), type: credential.type, response });
}

/** Why it went wrong, where the reader can do something about it. */
function why(error) {
  if (error.name === "InvalidStateError") return "This device has a passkey for your account already.";
  if (error.name === "NotAllowedError") return "No passkey was used: the browser was told to stop, or waited for too long.";
  if (error.name === "Said") return error.message;
  return "This browser could not do it. Sign in by your password.";
}

async function optionsOf(form) {
  if (form.dataset.options) return JSON.parse(form.dataset.options);
  const token = form.elements.namedItem("form_token");
  const answer = await fetch(form.dataset.asks, { method: "POST", headers: token ? { "Trainwright-Token": token.value } : {} }).catch(() => null);
  const given = await answer?.json().catch(() => null);
  if (answer?.ok && given) return given;
  throw Object.assign(new Error(given?.said ?? "Trainwright does not answer. Try it once more."), { name: "Said" });
}

if (window.PublicKeyCredential) {
  for (const form of document.querySelectorAll("[data-passkey], [data-passkey-offered]")) form.hidden = false;
  for (const form of document.querySelectorAll("[data-passkey]")) {
    const alert = form.querySelector("[role=alert]");
    const button = form.querySelector("button");
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      alert.textContent = "";
      button.disabled = true;
      try {
        const found = await navigator.credentials[form.dataset.passkey](taken(await optionsOf(form)));
        form.elements.namedItem("credential").value = told(found);
        form.submit();
      } catch (error) {
        alert.textContent = why(error);
        button.disabled = false;
      }
    });
  }
}
