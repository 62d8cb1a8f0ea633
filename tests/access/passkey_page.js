// Makes a passkey, or signs in with one, as a page of the server would.
async ({ what, csrf }) => {
  const post = async (path, body) => {
    const headers = { "content-type": "application/json", "x-levelbook-csrf": csrf };
    const answer = await fetch(path, { method: "POST", headers, body: JSON.stringify(body) });
    return { status: answer.status, body: await answer.json() };
  };
  if (what === "make") {
    const { body } = await post("/api/passkeys/options", {});
    const publicKey = PublicKeyCredential.parseCreationOptionsFromJSON(body);
    const made = await navigator.credentials.create({ publicKey });
    return post("/api/passkeys", { credential: made.toJSON(), name: "this browser" });
  }
  const { body } = await post("/api/sign-in/passkey/options", {});
  const publicKey = PublicKeyCredential.parseRequestOptionsFromJSON(body);
  const given = await navigator.credentials.get({ publicKey });
  const entered = await post("/api/sign-in/passkey", { credential: given.toJSON() });
  const me = await (await fetch("/api/me")).json();
  return { status: entered.status, body: me };
}
