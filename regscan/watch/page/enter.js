"use strict";
// The token stands behind # in the address, so it is in no log; here it becomes a cookie.
const answer = document.getElementById("answer");

async function enter(token) {
  const said = await fetch("/enter", {
    method: "POST",
    headers: {"Content-Type": "application/json"},
    body: JSON.stringify({token}),
  });
  const {done, words} = said.ok ? await said.json() : {done: false, words: "Refused."};
  if (done) {
    location.replace("/");
  } else {
    answer.textContent = words;
  }
}

document.getElementById("enter-form").addEventListener("submit", (event) => {
  event.preventDefault();
  enter(document.getElementById("token").value.trim());
});
if (location.hash.length > 1) enter(location.hash.slice(1));
