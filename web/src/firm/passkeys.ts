/** Passkeys: what the server asks for, given to the browser and back, bytes as base64url. */

import { send } from "../api";

interface Described { readonly type: "public-key"; readonly id: string }
interface ToSign extends Omit<PublicKeyCredentialRequestOptions, "challenge" | "allowCredentials"> {
  readonly challenge: string;
  readonly allowCredentials?: readonly Described[];
}
interface ToMake extends Omit<PublicKeyCredentialCreationOptions, "challenge" | "user" | "excludeCredentials"> {
  readonly challenge: string;
  readonly user: { readonly id: string; readonly name: string; readonly displayName: string };
  readonly excludeCredentials?: readonly Described[];
}

/** Whether this browser can use passkeys at this address. */
export const passkeys = "PublicKeyCredential" in globalThis;

const STOPPED = new Error("No passkey was used. Try again, or use your password.");

/** Sign in with a passkey of this device. */
export async function signInByKey(device: string): Promise<void> {
  await send("/api/sign-in/passkey", { device, credential: await signed() });
}

/** Give a passkey again, where the server asks for it. */
export async function proveByKey(): Promise<void> {
  await send("/api/prove", { credential: await signed() });
}

/** What a passkey answers to the server's challenge. */
async function signed(): Promise<object> {
  const asked = await send<ToSign>("/api/sign-in/passkey/options");
  const publicKey = { ...asked, challenge: bytes(asked.challenge), allowCredentials: listed(asked.allowCredentials) };
  const found = (await navigator.credentials.get({ publicKey }).catch(() => null)) as PublicKeyCredential | null;
  if (!found) throw STOPPED;
  const answer = found.response as AuthenticatorAssertionResponse;
  return told(found, {
    clientDataJSON: text(answer.clientDataJSON),
    authenticatorData: text(answer.authenticatorData),
    signature: text(answer.signature),
    userHandle: answer.userHandle ? text(answer.userHandle) : null,
  });
}

/** Make a passkey on this device and give it a name. */
export async function addKey(name: string): Promise<void> {
  const asked = await send<ToMake>("/api/passkeys/options");
  const publicKey = {
    ...asked,
    challenge: bytes(asked.challenge),
    user: { ...asked.user, id: bytes(asked.user.id) },
    excludeCredentials: listed(asked.excludeCredentials),
  };
  const made = (await navigator.credentials.create({ publicKey }).catch(() => null)) as PublicKeyCredential | null;
  if (!made) throw new Error("No passkey was made. This device may have one already.");
  const answer = made.response as AuthenticatorAttestationResponse;
  await send("/api/passkeys", {
    name,
    credential: told(made, { clientDataJSON: text(answer.clientDataJSON), attestationObject: text(answer.attestationObject) }),
  });
}

function told(found: PublicKeyCredential, response: object): object {
  return { id: found.id, rawId: text(found.rawId), type: found.type, response, clientExtensionResults: {} };
}

function listed(given: readonly Described[] = []): PublicKeyCredentialDescriptor[] {
  return given.map((each) => ({ type: each.type, id: bytes(each.id) }));
}

function bytes(base64url: string): Uint8Array<ArrayBuffer> {
  return Uint8Array.from(atob(base64url.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
}

function text(given: ArrayBuffer): string {
  return btoa(String.fromCharCode(...new Uint8Array(given))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}
