// The door pages: takes the secret from behind the # of the address, sends it when the button is
// pressed, and says what came of it. Text only is ever put into the page.
"use strict";

// words by language; those of the page itself stand in it in English.
const words = {
  en: {
    wait: "One moment…", known: "is known", shop: (may, shop, until) => `It ${may} in the shop “${shop}”${until}.`, until: " until ",
    away: "The service cannot be reached. See that this device is in the shop's network, then try again.",
    roles: { READER: "may read", TECHNICIAN: "may do jobs", OWNER: "may do everything" },
  },
  es: {
    wait: "Un momento…", known: "es conocido", shop: (may, shop, until) => `En el taller «${shop}» ${may}${until}.`, until: " hasta el ",
    away: "No se puede alcanzar el servicio. Vea que este aparato esté en la red del taller e inténtelo otra vez.",
    roles: { READER: "puede leer", TECHNICIAN: "puede hacer trabajos", OWNER: "puede hacer todo" }, on: "Seguir a rowdatum",
    doors: {
      "/pair": { title: "Vincular este teléfono", label: "Código", button: "Vincular este teléfono", done: "Este teléfono está vinculado.",
        says: "Al vincularlo, este teléfono trabaja para el taller que le dio el código. Siga solo si usted lo pidió." },
      "/share": { title: "Abrir un trabajo compartido", label: "Clave del enlace", button: "Abrir", done: "Este navegador puede leer el trabajo compartido.",
        says: "Alguien compartió un trabajo con usted, para leerlo." },
    },
  },
};

const form = document.getElementById("door");
const secret = document.getElementById("secret");
const outcome = document.getElementById("outcome");
const language = [chosen(), ...navigator.languages].map((l) => l.slice(0, 2)).find((l) => l in words) ?? "en";
const say = words[language];
speak(say.doors?.[location.pathname]);

secret.value = location.hash.slice(1);
history.replaceState(null, "", location.pathname); // the secret stays in no history

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  outcome.textContent = say.wait;
  outcome.textContent = await enter(secret.value.trim());
  button.disabled = false;
});

// chosen is the language that the page was set to on this device.
function chosen() {
  try { return localStorage.getItem("rowdatum.language") ?? ""; } catch { return ""; }
}

// speak puts the page into another language.
function speak(door) {
  document.documentElement.lang = language;
  if (!door) return;
  document.title = `${door.title} · rowdatum`;
  document.querySelector("h1").textContent = door.title;
  document.querySelector("h1 + p").textContent = door.says;
  form.querySelector("label").textContent = door.label;
  form.querySelector("button").textContent = door.button;
  form.dataset.done = door.done;
  document.querySelector("main a").textContent = say.on;
}

// enter returns what to tell the person.
async function enter(given) {
  try {
    const answer = location.pathname === "/pair" ? await redeem(given.toUpperCase()) : await share(given);
    const body = await answer.json();
    if (!answer.ok) {
      return body.message;
    }
    form.hidden = true;
    return form.dataset.done + " " + about(body.session ?? body);
  } catch {
    return say.away;
  }
}

function redeem(code) {
  return fetch("/v1/pairings:redeem", {
    method: "POST", headers: { "Content-Type": "application/json", "Accept-Language": language }, body: JSON.stringify({ code }),
  });
}

function share(key) {
  return fetch("/share", { method: "POST", headers: { Authorization: "Bearer " + key, "Accept-Language": language } });
}

function about(session) {
  const until = session.expireTime ? say.until + new Date(session.expireTime).toLocaleDateString(language) : "";
  return say.shop(say.roles[session.role] ?? say.known, session.shop, until);
}
