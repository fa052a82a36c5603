// Opens the tablet's database while the page is still being parsed: it takes long and needs nothing of the page.
import { openDatabase } from "./outbox/database.js";

openDatabase();
