// The page shows what it is told: runs, or one study.
import { knowLimits } from "./finding.js";
import { runPage } from "./run_page.js";
import { studyPage } from "./study_page.js";
import { knowUnits } from "./units.js";

const told = JSON.parse(document.getElementById("runs").textContent);
knowLimits(told.limits);
knowUnits(told.units);
if (told.studies) studyPage(told.studies[0]);
else runPage(told.runs);
