package adopt

import (
	"strings"
	"unicode"
)

// column is what a column of a table holds.
type column int

const (
	unknownColumn column = iota
	nameColumn
	fileColumn
	countColumn
	colourColumn
	materialColumn
	sizeColumn
	lengthColumn
	whereColumn
	noteColumn
	priceColumn
	packColumn
	timeColumn
	gramsColumn
	layerColumn
	infillColumn
	wallsColumn
	supportsColumn
	mirrorColumn
	numberColumn // a running number, of no meaning
	headColumn
	roleColumn
)

// columnWords are the words by which columns are known: English first, then German, French, Spanish, Dutch.
// The first column kind whose word stands in the head wins; longer phrases come before the words in them.
var columnWords = []struct {
	kind  column
	words []string
}{
	{timeColumn, []string{"print time", "printing time", "time", "duration", "hours", "druckzeit", "zeit", "durée", "tiempo"}},
	{layerColumn, []string{"layer height", "layer", "layers", "schichthöhe", "hauteur de couche"}},
	{infillColumn, []string{"infill", "füllung", "remplissage", "relleno"}},
	{wallsColumn, []string{"walls", "perimeters", "wall lines", "shells", "wandlinien", "perimeter"}},
	{supportsColumn, []string{"support", "supports", "stützen", "soportes"}},
	{mirrorColumn, []string{"mirrored", "mirror", "gespiegelt"}},
	{packColumn, []string{"pack size", "per pack", "pack", "pack of", "packung", "sold in"}},
	{priceColumn, []string{"unit price", "price", "cost", "eur", "€", "$", "usd", "gbp", "£", "each", "preis", "prix", "precio", "prijs"}},
	{gramsColumn, []string{"weight", "grams", "mass", "filament used", "filament g", "g", "gewicht", "poids", "peso"}},
	{fileColumn, []string{"file name", "filename", "file", "files", "stl", "stl file", "mesh", "model file", "model", "datei", "dateiname", "fichier", "archivo", "bestand"}},
	{countColumn, []string{"how many", "number needed", "number of", "quantity", "qty", "qty.", "count", "copies", "amount", "pcs", "pieces", "needed", "required", "no. needed", "units", "#", "x", "print", "menge", "anzahl", "stück", "stk", "quantité", "qté", "nombre", "cantidad", "aantal", "no.", "no", "nr", "n"}},
	{colourColumn, []string{"colour", "color", "colors", "colours", "filament", "filament colour", "farbe", "couleur", "kleur"}},
	{materialColumn, []string{"material", "plastic", "matériau", "materiaal"}},
	{headColumn, []string{"head", "head type", "drive", "kopf", "type of head"}},
	{lengthColumn, []string{"length", "length mm", "long", "länge", "longueur", "longitud"}},
	{sizeColumn, []string{"size", "spec", "specification", "dimensions", "dimension", "thread", "dia", "diameter", "größe", "taille", "maat"}},
	{whereColumn, []string{"where used", "used in", "used for", "goes", "joins", "where", "for", "location", "position", "purpose", "used", "step", "wofür", "usage"}},
	{nameColumn, []string{"part name", "part", "parts", "item", "name", "component", "what", "thing", "description", "hardware", "fastener", "screw", "object", "piece", "article", "designation", "teil", "bezeichnung", "artikel", "bauteil", "benennung", "pièce", "désignation", "pieza", "descripción", "onderdeel", "bom", "type"}},
	{noteColumn, []string{"notes", "note", "remarks", "remark", "comment", "comments", "details", "info", "bemerkung", "bemerkungen", "hinweis", "remarque", "notas", "opmerking", "settings"}},
	{roleColumn, []string{"kind", "category", "group", "source", "supplier", "vendor", "link", "url", "shop", "lieferant"}},
}

// words splits a text into lower-case words of letters, digits and the signs that stand for a word.
func words(s string) []string {
	return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("#€$£.&+", r)
	})
}

// columnOf reads a head's cell; of names a variant column ("Qty CE") for what is left when the word is taken.
func columnOf(cell string) (kind column, rest string) {
	w := strings.Join(words(cell), " ")
	if w == "" || len(w) > 60 {
		return unknownColumn, ""
	}
	for _, c := range columnWords {
		for _, x := range c.words {
			if w == x {
				return c.kind, ""
			}
		}
	}
	padded := " " + w + " "
	at, kind, with := len(padded), unknownColumn, ""
	// The word that stands first decides: "part for the lid" is a part, "used for" a use.
	for _, c := range columnWords {
		for _, x := range c.words {
			if len(x) < 3 && x != "no" || x == "for" || x == "print" {
				continue
			}
			if i := strings.Index(padded, " "+x+" "); i >= 0 && (i < at || i == at && len(x) > len(with)) {
				at, kind, with = i, c.kind, x
			}
		}
	}
	if kind == unknownColumn {
		return kind, ""
	}
	return kind, strings.TrimSpace(strings.Replace(padded, " "+with+" ", " ", 1))
}

// maybeCount are heads of a count where nothing else is one, and of a running number otherwise.
var maybeCount = map[string]bool{"#": true, "no": true, "no.": true, "nr": true, "n": true, "x": true}

// layout is the columns of one table.
type layout struct {
	kinds []column
	rests []string
	known int
}

func layoutOf(head []string) layout {
	var l layout
	seen := map[column]bool{}
	plain := false // a column says in words that it counts
	for _, c := range head {
		k, _ := columnOf(c)
		plain = plain || k == countColumn && !maybeCount[strings.Join(words(c), " ")]
	}
	for _, c := range head {
		k, rest := columnOf(c)
		if k == countColumn && plain && maybeCount[strings.Join(words(c), " ")] {
			k = numberColumn
		}
		if k != unknownColumn && (k != countColumn || rest == "") && seen[k] && k != nameColumn && k != noteColumn && k != whereColumn {
			k = noteColumn
		}
		if k != unknownColumn {
			if !seen[k] {
				l.known++
			}
			seen[k] = true
		}
		l.kinds, l.rests = append(l.kinds, k), append(l.rests, rest)
	}
	return l
}

// find is the first column of a kind, -1 for none.
func (l layout) find(k column) int {
	for i, x := range l.kinds {
		if x == k {
			return i
		}
	}
	return -1
}

var meshName = lazily(`(?i)[\p{L}\d][\p{L}\d_.+()\[\]-]*(?: \(x?\d+x?\))?(?:/[\p{L}\d][\p{L}\d_.+() -]*)*\.(?:stl|3mf|obj|step|stp|gcode)\b`)

// settle makes the best of a head whose columns are not all known: what stands in the rows decides.
func (l *layout) settle(rows []row) {
	n := len(l.kinds)
	for _, r := range rows[:min(len(rows), 50)] {
		n = max(n, len(r.cells))
	}
	for len(l.kinds) < n {
		l.kinds, l.rests = append(l.kinds, unknownColumn), append(l.rests, "")
	}
	share := func(i int, is func(string) bool) float64 {
		hit, all := 0, 0
		for _, r := range rows {
			if c := r.cell(i); c != "" {
				all++
				if is(c) {
					hit++
				}
			}
		}
		if all == 0 {
			return 0
		}
		return float64(hit) / float64(all)
	}
	isCount := func(s string) bool { q, ok := parseQuantity(s); return ok && q.n < 1000 }
	// a "No." or "#" that only counts the rows is no quantity
	for i, k := range l.kinds {
		if k == countColumn && len(rows) > 1 && runningNumber(rows, i) && (l.countsBeside(i) || i == 0 && l.find(nameColumn) != 0) {
			l.kinds[i] = numberColumn
		}
	}
	if i := l.find(countColumn); i >= 0 && share(i, isCount) < 0.3 {
		l.kinds[i] = noteColumn
	}
	if l.find(fileColumn) < 0 {
		for i, k := range l.kinds {
			if (k == unknownColumn || k == nameColumn) && share(i, func(s string) bool { return meshName.MatchString(s) }) > 0.5 {
				if k == nameColumn && l.find(nameColumn) == i {
					break // names that are file names: read as both
				}
				l.kinds[i] = fileColumn
				break
			}
		}
	}
	if l.find(countColumn) < 0 {
		for i, k := range l.kinds {
			if k == unknownColumn && share(i, isCount) > 0.8 && !runningNumber(rows, i) {
				l.kinds[i] = countColumn
				break
			}
		}
	}
	if l.find(nameColumn) < 0 && l.find(fileColumn) < 0 {
		for i, k := range l.kinds {
			if k == unknownColumn && share(i, func(s string) bool { return strings.ContainsFunc(s, unicode.IsLetter) }) > 0.5 {
				l.kinds[i] = nameColumn
				break
			}
		}
	}
}

func (l layout) countsBeside(i int) bool {
	for j, k := range l.kinds {
		if j != i && k == countColumn {
			return true
		}
	}
	return false
}

// runningNumber tells that a column counts 1, 2, 3 down the rows.
func runningNumber(rows []row, i int) bool {
	if len(rows) < 3 {
		return false
	}
	for k, r := range rows {
		n, ok := number(strings.TrimRight(r.cell(i), ".)"))
		if !ok || int(n) != k+1 {
			return false
		}
	}
	return true
}
