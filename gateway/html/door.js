// The door pages: takes the secret from behind the # of the address, sends it when the button is
// pressed, and says what came of it. Text only is ever put into the page.
"use strict";

const form = document.getElementById("door");
const secret = document.getElementById("secret");
const outcome = document.getElementById("outcome");
const roles = { READER: "may read", TECHNICIAN: "may do jobs", OWNER: "may do everything" };

secret.value = location.hash.slice(1);
history.replaceState(null, "", location.pathname); // the secret stays in no history

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  outcome.textContent = "One moment…";
  outcome.textContent = await enter(secret.value.trim());
  button.disabled = false;
});

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
    return "The service cannot be reached. See that this device is in the shop's network, then try again.";
  }
}

function redeem(code) {
  return fetch("/v1/pairings:redeem", {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ code }),
  });
}

function share(key) {
  return fetch("/share", { method: "POST", headers: { Authorization: "Bearer " + key } });
}

function about(session) {
  const until = session.expireTime ? " until " + new Date(session.expireTime).toLocaleDateString() : "";
  return `It ${roles[session.role] ?? "is known"} in the shop “${session.shop}”${until}.`;
}
