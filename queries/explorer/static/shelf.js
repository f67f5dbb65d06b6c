// Answers as you type: the page that the Find button would show, fetched a moment after the last key. Without this script the button does it.
const box = document.getElementById("q");
const main = document.getElementById("main");
const said = document.getElementById("said");
let timer = 0;
let asking = null;
async function answer() {
  const text = box.value.trim();
  if (text.length < 2) return;
  if (asking) asking.abort();
  asking = new AbortController();
  const address = "/find?q=" + encodeURIComponent(text);
  try {
    const response = await fetch(address, { signal: asking.signal, headers: { accept: "text/html" } });
    if (!response.ok) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    main.replaceChildren(...page.getElementById("main").childNodes);
    document.title = page.title;
    history.replaceState(null, "", address);
    said.textContent = main.querySelectorAll(".cards > li").length + " shown";
  } catch (error) {
    if (error.name !== "AbortError") said.textContent = "The shelf does not answer just now; the Find button asks again.";
  }
}
box.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(answer, 250); });
