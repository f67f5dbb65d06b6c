// The button needs this script, so it is shown only where the script runs; the browser's own menu prints the page as well.
const button = document.getElementById("print");
button.hidden = false;
button.addEventListener("click", () => window.print());
