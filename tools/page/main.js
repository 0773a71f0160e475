// The page shows what it is told: runs, or one study.
import { runPage } from "./run_page.js";
import { studyPage } from "./study_page.js";

const told = JSON.parse(document.getElementById("runs").textContent);
if (told.studies) studyPage(told.studies[0]);
else runPage(told.runs);
