// Starts the page, and says so when it can't: a program that was built without the npm packages has no page libraries.
import("./main.js").catch((error) => {
  const main = document.getElementById("main");
  const says = document.createElement("p");
  says.className = "trouble";
  says.setAttribute("role", "alert");
  says.textContent = `This page could not start (${error.message}). Was the program built without the page's packages? Run npm ci in page/ and build again. Without the page: witmark today, witmark round, witmark sheet.`;
  main.replaceChildren(says);
});
