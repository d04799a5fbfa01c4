package shelf

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// tongue is a language of the pages.
type tongue int

const (
	english tongue = iota
	german
)

func tongueOf(language string) tongue {
	if language == "de" {
		return german
	}
	return english
}

// code is the language's BCP 47 tag.
func (t tongue) code() string { return [2]string{"en", "de"}[t] }

// table is every word of the pages, English and German.
var table = map[string][2]string{
	"skip":           {"Skip to the contents", "Zum Inhalt springen"},
	"for early":      {"for supporters", "für Unterstützer"},
	"for public":     {"for everybody", "für alle"},
	"for group":      {"for %s", "für %s"},
	"rehearsal":      {"Rehearsal", "Probe"},
	"rehearsal note": {"This is a rehearsal: nothing here went out.", "Das ist eine Probe: nichts hiervon wurde veröffentlicht."},
	"series":         {"Series", "Serie"},
	"audience":       {"Audience", "Publikum"},
	"maker":          {"Maker", "Von"},
	"state":          {"State", "Stand"},
	"designs":        {"Designs", "Entwürfe"},
	"design count":   {"%d designs", "%d Entwürfe"},
	"one design":     {"1 design", "1 Entwurf"},
	"coming":         {"What comes next", "Was als Nächstes kommt"},
	"week":           {"Week", "Woche"},
	"week n":         {"Week %d", "Woche %d"},
	"day":            {"Day", "Tag"},
	"what":           {"What", "Was"},
	"new design":     {"a new design", "ein neuer Entwurf"},
	"called off":     {"called off", "abgesagt"},
	"coming note":    {"Days are those of %s. They may move; the calendar below moves with them.", "Die Tage gelten in %s. Sie können sich verschieben; der Kalender unten geht mit."},
	"subscribe":      {"Keep up", "Auf dem Laufenden bleiben"},
	"atom":           {"Atom feed", "Atom-Feed"},
	"json":           {"JSON feed", "JSON-Feed"},
	"ics":            {"Calendar", "Kalender"},
	"feeds note":     {"One entry a design; a correction or a withdrawal updates it.", "Ein Eintrag je Entwurf; eine Berichtigung oder ein Rückzug aktualisiert ihn."},
	"ics note":       {"The days on which designs come out, for any calendar program.", "Die Tage, an denen Entwürfe erscheinen, für jedes Kalenderprogramm."},
	"notices":        {"Read this first", "Zuerst lesen"},
	"withdrawn":      {"withdrawn", "zurückgezogen"},
	"withdrawn mark": {"Withdrawn: do not build", "Zurückgezogen: nicht bauen"},
	"revision":       {"Revision", "Revision"},
	"dated":          {"%s of %s", "%s vom %s"},
	"licence":        {"Licence", "Lizenz"},
	"later":          {"%s, from the public day on %s", "%s, ab dem öffentlichen Tag %s"},
	"variants":       {"Variants", "Varianten"},
	"print time":     {"Printing", "Drucken"},
	"to supporters":  {"Out for supporters", "Für Unterstützer seit"},
	"to everybody":   {"Out for everybody", "Für alle ab"},
	"to group":       {"Out for %s", "Für %s ab"},
	"here since":     {"Here since", "Hier seit"},
	"pictures":       {"Pictures", "Bilder"},
	"about":          {"What it is", "Was es ist"},
	"correction":     {"What this revision corrects", "Was diese Revision berichtigt"},
	"get":            {"Get it", "Herunterladen"},
	"kept":           {"Its files, kept to be looked at", "Die Dateien, zum Nachsehen aufbewahrt"},
	"file":           {"File", "Datei"},
	"size":           {"Size", "Größe"},
	"files note":     {"A bundle holds the meshes, the assembly sheet, the bill of materials and the licence of one variant. SHA256SUMS lists the sums above; inside, VERIFY.txt says how to check.", "Ein Paket enthält die Netze, die Bauanleitung, die Stückliste und die Lizenz einer Variante. SHA256SUMS nennt die Summen von oben; innen sagt VERIFY.txt, wie man prüft."},
	"build":          {"Print and order", "Drucken und bestellen"},
	"sheet":          {"Assembly sheet", "Bauanleitung"},
	"bill":           {"Bill of materials (CSV)", "Stückliste (CSV)"},
	"to print":       {"To print", "Zu drucken"},
	"part":           {"Part", "Teil"},
	"copies":         {"Copies", "Anzahl"},
	"count":          {"Count", "Anzahl"},
	"mirrored":       {"of these %d mirrored", "davon %d gespiegelt"},
	"optional":       {"optional", "nach Wunsch"},
	"jig":            {"jig", "Lehre"},
	"spare":          {"spare", "Ersatzteil"},
	"filament":       {"Filament", "Filament"},
	"dimensions":     {"Size in mm", "Maße in mm"},
	"settings":       {"Settings", "Einstellungen"},
	"grams each":     {"Grams each", "Gramm je Stück"},
	"time each":      {"Time each", "Zeit je Stück"},
	"together":       {"Together", "Zusammen"},
	"filaments":      {"Filament to have", "Filament im Haus"},
	"material":       {"Material", "Material"},
	"or":             {"or %s", "oder %s"},
	"metres":         {"Metres", "Meter"},
	"grams":          {"Grams", "Gramm"},
	"fasteners":      {"Fasteners", "Verbindungselemente"},
	"designation":    {"Designation", "Bezeichnung"},
	"used by":        {"For", "Für"},
	"bought":         {"Bought parts", "Kaufteile"},
	"changes":        {"Changes", "Änderungen"},
	"verdicts":       {"Printed %s? What to print again:", "%s schon gedruckt? Was neu zu drucken ist:"},
	"verdict":        {"Print again", "Neu drucken"},
	"yes":            {"yes", "ja"},
	"no":             {"no", "nein"},
	"only-if":        {"only if", "nur falls"},
	"why":            {"Why", "Warum"},
	"nothing again":  {"Nothing need be printed again.", "Nichts muss neu gedruckt werden."},
	"dates":          {"Dates", "Termine"},
	"older":          {"Older revisions", "Ältere Revisionen"},
	"older note":     {"They stay where they are, so that nobody's link breaks. Build the newest.", "Sie bleiben, wo sie sind, damit kein Link bricht. Gebaut wird die neueste."},
	"all designs":    {"All designs", "Alle Entwürfe"},
	"machine index":  {"For programs: release.json", "Für Programme: release.json"},
	"days of":        {"Days and times are those of %s.", "Tage und Zeiten gelten in %s."},
	"cautions":       {"Printers, soldering irons, blades, batteries and mains can hurt. The sheet says where; local rules prevail.", "Drucker, Lötkolben, Klingen, Akkus und Netzspannung können verletzen. Die Anleitung sagt, wo; örtliche Vorschriften gehen vor."},
	"out early":      {"%s: out for supporters", "%s: für Unterstützer erschienen"},
	"out public":     {"%s: out for everybody", "%s: für alle erschienen"},
	"out group":      {"%s: out for %s", "%s: für %s erschienen"},
	"coming event":   {"Week %d: %s", "Woche %d: %s"},
	"feed title":     {"%s, %s", "%s, %s"},
	"feed subtitle":  {"Designs to print and build, and their corrections.", "Entwürfe zum Drucken und Bauen, und ihre Berichtigungen."},
	"ics about":      {"When designs come out. Days may move; they move here too.", "Wann Entwürfe erscheinen. Tage können sich verschieben, dann auch hier."},
	"gone sheet":     {"This sheet is withdrawn", "Diese Anleitung ist zurückgezogen"},
	"back":           {"The design's page", "Die Seite des Entwurfs"},
	"and":            {"and", "und"},
}

// say gives the words for a key, filled with args.
func (t tongue) say(key string, args ...any) string {
	e, ok := table[key]
	if !ok {
		return "[" + key + "]"
	}
	if len(args) == 0 {
		return e[t]
	}
	return fmt.Sprintf(e[t], args...)
}

// number writes a figure with a fixed number of decimals and the language's decimal sign.
func (t tongue) number(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if t == german {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// grams writes a mass as the sheet does: tenths below 100 g, whole grams above.
func (t tongue) grams(x float64) string {
	if math.Abs(x) >= 99.95 {
		return t.number(x, 0)
	}
	return t.number(x, 1)
}

// count writes a count, with as many decimals as it has.
func (t tongue) count(x float64) string {
	s := strconv.FormatFloat(x, 'f', -1, 64)
	if t == german {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// nbsp keeps a figure and its unit on one line.
const nbsp = "\u00a0"

// duration writes hours and minutes as the sheet does.
func (t tongue) duration(seconds float64) string {
	m := max(1, int64(math.Round(seconds/60)))
	if m < 60 {
		return fmt.Sprintf("%d%smin", m, nbsp)
	}
	return fmt.Sprintf("%d%sh%s%02d%smin", m/60, nbsp, nbsp, m%60, nbsp)
}

// bytes writes a size of a file in decimal units.
func (t tongue) bytes(n int64) string {
	switch {
	case n >= 999_500:
		return t.number(float64(n)/1e6, 1) + nbsp + "MB"
	case n >= 1000:
		return t.number(float64(n)/1e3, 0) + nbsp + "kB"
	}
	return fmt.Sprintf("%d%sB", n, nbsp)
}

var (
	months = [2][12]string{
		{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
		{"Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November", "Dezember"},
	}
	weekdays = [2][7]string{
		{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
		{"So", "Mo", "Di", "Mi", "Do", "Fr", "Sa"},
	}
)

// day writes a day: Fri 29 January 2027.
func (t tongue) day(at time.Time) string {
	dot := [2]string{"", "."}[t]
	return fmt.Sprintf("%s %d%s %s %d", weekdays[t][at.Weekday()], at.Day(), dot, months[t][at.Month()-1], at.Year())
}

// moment writes a day with the time: Fri 29 January 2027, 17:00.
func (t tongue) moment(at time.Time) string { return t.day(at) + ", " + at.Format("15:04") }

// date writes the day of a revision: 20 January 2027.
func (t tongue) date(iso string) string {
	at, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	_, rest, _ := strings.Cut(t.day(at), " ")
	return rest
}
