package adopt

import (
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

// purchase is one bought part.
type purchase struct {
	name  string
	what  string
	count float64
	unit  string
	pack  int
	price float64
	size  [][2]string // key and figure, where the size can be told
	only  []string
	by    origin
	entry *entry

	fastener bool // a fastener that no joint takes: a washer, a standoff, a nut of its own
	supply   bool // glue, solder: used and not counted
}

var (
	toolWords   = lazily(`(?i)\b(?:screw ?drivers?|hex keys?|allen keys?|soldering iron|pliers|knife|file|spanner|wrench|drill bit|tweezers|crimp\w*|strippers?|heat gun|hot glue gun|side cutters?|3d printer|printer)\b`)
	supplyWords = lazily(`(?i)\b(?:glue|cyanoacrylate|epoxy|solder|grease|lubricant|adhesive|thread ?lock\w*|superglue|isopropyl\w*|paint|primer|sandpaper)\b`)
	spoolWords  = lazily(`(?i)\b(?:filament|spool|PLA|PETG|ASA|ABS|TPU)\b`)
	sizeTriple  = lazily(`(\d+(?:[.,]\d+)?)\s*(?:mm)?\s*[x×*]\s*(\d+(?:[.,]\d+)?)(?:\s*(?:mm)?\s*[x×*]\s*(\d+(?:[.,]\d+)?))?`)
	nameStop    = map[string]bool{"in": true, "with": true, "for": true, "of": true, "to": true, "and": true, "from": true, "or": true, "per": true, "on": true, "at": true, "x": true, "mm": true, "cm": true, "m": true, "v": true, "a": true, "the": true, "such": true, "as": true, "pack": true, "packs": true}
)

// sizeKeys are the fields of a size, in the order in which the trade writes them, by what the thing is.
var sizeKeys = []struct {
	shape *pattern
	keys  []string
}{
	{lazily(`(?i)\bmagnets?\b`), []string{"diameter", "height"}},
	{lazily(`(?i)\bbearings?\b`), []string{"bore", "diameter", "width"}},
	{lazily(`(?i)\bbush(?:ing)?s?\b`), []string{"bore", "diameter", "length"}},
	{lazily(`(?i)\b(?:rods?|shafts?|axles?|dowels?|pins?)\b`), []string{"diameter", "length"}},
	{lazily(`(?i)\bo-?rings?\b`), []string{"bore", "width"}},
	{lazily(`(?i)\b(?:tubes?|pipes?)\b`), []string{"diameter", "length"}},
	{lazily(`(?i)\bfans?\b`), []string{"length", "width", "height"}},
}

// purchases gathers what the lists name and that is neither printed, nor a fastener, nor a board.
func (r *reader) purchases() {
	used := map[string]bool{design.Washer: true, design.Board: true}
	for _, p := range r.parts {
		used[p.name] = true
	}
	for _, v := range r.variants {
		for _, b := range v.boards {
			used[design.Kebab(b.id)] = true
		}
	}
	seen := map[string]*purchase{}
	for _, e := range r.entries {
		if e.taken || e.printed || e.section == settingSection || e.name == "" || len(e.files) > 0 || e.section == stepSection {
			continue
		}
		if !(e.tabled && e.counted) && e.section != buySection {
			continue
		}
		text := strings.TrimSpace(e.name + " " + e.size)
		if toolWords.MatchString(e.name) || spoolWords.MatchString(e.name) || r.isBoard(text) || len(text) > 200 {
			continue
		}
		if len(splitWords(e.name)) > 12 && !e.tabled {
			continue
		}
		key := flat(e.name)
		if d := seen[key]; d != nil {
			continue // another list has it too
		}
		b := &purchase{what: text, count: 1, entry: e, by: origin{where(e.at), Likely}, price: e.price, pack: e.pack, only: r.onlyOf(e)}
		if !e.tabled && e.where != "" && len(e.where) < 80 {
			b.what = e.name + ", " + e.where
		}
		if e.counted && e.count.n > 0 {
			b.count, b.unit = e.count.n, e.count.unit
			if e.tabled {
				b.by.sure = Sure
			}
		}
		b.supply = supplyWords.MatchString(e.name)
		b.size = sizesOf(b.what)
		b.name = unique(thingName(e.name), used)
		seen[key] = b
		e.taken = true
		r.bought = append(r.bought, b)
		if len(r.bought) >= 200 {
			return
		}
	}
}

// isBoard tells whether a line of a list is a board that the variants hold.
func (r *reader) isBoard(s string) bool {
	w := splitFlat(s)
	for _, v := range r.variants {
		for _, b := range v.boards {
			p := r.profile(b.id)
			if p == nil {
				continue
			}
			for _, ph := range boardPhrases(p) {
				if namesWord(w, ph) {
					return true
				}
			}
			if _, own := r.own[b.id]; own && slices.Contains(w, "board") && slices.Contains(w, strings.Split(b.id, "-")[0]) {
				return true
			}
		}
	}
	return false
}

// thingName is a short name for a bought thing: its first words without figures.
func thingName(s string) string {
	s, _ = splitName(s)
	var out []string
	for _, w := range splitWords(strings.ReplaceAll(s, "'", "")) {
		if nameStop[w] && len(out) > 0 {
			break
		}
		if nameStop[w] || strings.ContainsAny(w, "0123456789") && len(out) > 0 || isDigits(w) {
			continue
		}
		if out = append(out, w); len(out) == 3 {
			break
		}
	}
	return design.Kebab(strings.Join(out, "-"))
}

// sizesOf reads the size of things whose size is written in an order that everybody keeps.
func sizesOf(s string) [][2]string {
	for _, k := range sizeKeys {
		if !k.shape.MatchString(s) {
			continue
		}
		m := sizeTriple.FindStringSubmatch(s)
		if m == nil {
			return nil
		}
		var out [][2]string
		for i, key := range k.keys {
			v, ok := number(m[i+1])
			if !ok || v <= 0 {
				return nil
			}
			out = append(out, [2]string{key, figureText(v)})
		}
		return out
	}
	return nil
}

// leftFasteners makes bought parts of what the lists call fasteners and no joint takes up: spare inserts,
// washers that lie loose, standoffs.
func (r *reader) leftFasteners() {
	used := map[string]bool{design.Washer: true, design.Board: true}
	for _, p := range r.parts {
		used[p.name] = true
	}
	for _, b := range r.bought {
		used[b.name] = true
	}
	for _, f := range r.fastened {
		used[f.name] = true
	}
	for _, it := range r.items {
		if it.m.kind == hardware.KindScrew {
			continue
		}
		taken := false
		for _, f := range r.fastened {
			if f.size() != it.m.size {
				continue
			}
			taken = taken || it.m.kind == hardware.KindInsert && f.insert != nil || it.m.kind == hardware.KindNut && f.nut != ""
		}
		if taken || it.m.kind == hardware.KindWasher && r.giveWashers(it) {
			continue
		}
		r.bought = append(r.bought, &purchase{name: unique(design.Kebab(string(it.m.size)+"-"+string(it.m.kind)), used), what: it.text, count: float64(max(1, it.count)), by: it.from, entry: it.e, fastener: true, only: it.only})
	}
}

// giveWashers puts listed washers under the heads of the one fastener that has as many screws.
func (r *reader) giveWashers(it *fastening) bool {
	var hit *fastener
	for _, f := range r.fastened {
		if f.size() == it.m.size && it.counted && f.total() == it.count && !slices.Contains(f.through, design.Washer) {
			if hit != nil {
				return false
			}
			hit = f
		}
	}
	if hit == nil || len(hit.through) == 0 {
		return false
	}
	hit.through = append([]string{design.Washer}, hit.through...)
	return true
}
