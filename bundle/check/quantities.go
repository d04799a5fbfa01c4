package check

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/unit"
)

var (
	// packShape is how shops write that a thing comes by the packet.
	packShape = regexp.MustCompile(`(?i)\b(?:packs?|packets?|bags?|sets?|kits?) of (\d+)\b|\b(\d+)[ -](?:pack|pcs|pieces)\b`)
	// sizesShape is sizes as people write them: 50x67, 6 x 3 x 2.
	sizesShape = regexp.MustCompile(`\b(\d+(?:[.,]\d+)?)((?:\s?[x×]\s?\d+(?:[.,]\d+)?)+)\b`)
)

// sizedThings are bought parts that nobody can order without their sizes.
var sizedThings = map[string]string{
	"magnet": "{diameter: 6, height: 3}", "magnets": "{diameter: 6, height: 3}", "bearing": "{bore: 8, diameter: 22, width: 7}", "bearings": "{bore: 8, diameter: 22, width: 7}",
	"bushing": "{bore: 8, diameter: 10, length: 12}", "rod": "{diameter: 3, length: 48}", "shaft": "{diameter: 3, length: 48}",
	"axle": "{diameter: 3, length: 48}", "dowel": "{diameter: 3, length: 16}", "o-ring": "{bore: 10, width: 2}", "tube": "{diameter: 8, bore: 6, length: 100}",
}

// quantities: what is bought says how it is counted and how large it is.
func quantities(in *Input, r *report) {
	for _, b := range in.Design.Bought {
		what := string(b.What.V)
		if m := packShape.FindStringSubmatch(what); m != nil && !b.Pack.Set() {
			n := m[1] + m[2]
			r.add("pack-unlisted", b.What.At, "", fmt.Sprintf("%s reads as if it came in packs of %s; is the count of pieces or of packs?", b.Name.V, n), fmt.Sprintf("add pack: %s, take the words out of what, and let count be pieces", n))
		}
		typed := typedSizes(b.Size)
		if len(typed) == 0 {
			if thing, eg := sizedThing(what); thing != "" && !b.Unit.Set() { // what is cut from a length says what it is in words
				r.add("bought-size-missing", b.What.At, "", fmt.Sprintf("%s is a %s without a size", b.Name.V, thing), "add size: "+eg+" with its figures: typed, nobody takes the height for the diameter")
			}
			continue
		}
		for _, n := range numbersIn(what) {
			if !slices.Contains(typed, n) {
				r.add("bought-size-differs", b.What.At, "", fmt.Sprintf("%s is called %q, and its size holds %s", b.Name.V, what, listed(typed)), "mend one of the two")
				break
			}
		}
	}
	sizesInTexts(in, r)
}

func sizedThing(what string) (thing, example string) {
	for _, w := range strings.FieldsFunc(strings.ToLower(what), func(c rune) bool { return !(c >= 'a' && c <= 'z' || c == '-') }) {
		if eg, ok := sizedThings[w]; ok {
			return strings.TrimSuffix(w, "s"), eg
		}
	}
	return "", ""
}

func typedSizes(s design.Size) []float64 {
	var out []float64
	for _, v := range []design.Val[unit.Length]{s.Diameter, s.Bore, s.Height, s.Length, s.Width} {
		if v.Set() {
			out = append(out, float64(v.V))
		}
	}
	return out
}

// numbersIn are the figures of the first size in a text; nil when it names none.
func numbersIn(text string) []float64 {
	m := sizesShape.FindStringSubmatch(text)
	if m == nil {
		return nil
	}
	return figures(m[0])
}

func figures(size string) []float64 {
	var out []float64
	for _, w := range strings.FieldsFunc(size, func(c rune) bool { return c == 'x' || c == '×' || c == ' ' }) {
		if f, err := strconv.ParseFloat(strings.ReplaceAll(w, ",", "."), 64); err == nil {
			out = append(out, f)
		}
	}
	return out
}

func listed(v []float64) string {
	var out []string
	for _, x := range v {
		out = append(out, unit.Number(x))
	}
	return strings.Join(out, ", ")
}

// sizesInTexts: where a text names a thing of sizedThings with a size, one of the bought parts has it.
func sizesInTexts(in *Input, r *report) {
	var have [][]float64
	for _, b := range in.Design.Bought {
		if t := typedSizes(b.Size); len(t) > 0 {
			have = append(have, t)
		}
		for _, i := range b.Instead {
			have = append(have, typedSizes(i.Size))
		}
	}
	if len(have) == 0 {
		return
	}
	for _, x := range texts(in) {
		for _, m := range sizesShape.FindAllStringIndex(x.body, -1) {
			thing := beside(x.body, m[0], m[1])
			if thing == "" || strings.HasSuffix(strings.ToUpper(x.body[:m[0]]), "M") {
				continue
			}
			found := false
			for _, t := range have {
				all := true
				for _, n := range figures(x.body[m[0]:m[1]]) {
					all = all && slices.Contains(t, n)
				}
				found = found || all
			}
			if !found {
				r.add("bought-size-differs", x.place(m[0], m[1]), "", fmt.Sprintf("%s speaks of a %s of %s, which the list does not hold", x.name, thing, x.body[m[0]:m[1]]), "mend the text, or the list; better, leave sizes to the list: the sheet prints them")
			}
		}
	}
}

// beside is the thing of sizedThings within three words before a size or one after it.
func beside(body string, from, to int) string {
	words := strings.Fields(body[max(0, from-60):from])
	words = words[max(0, len(words)-3):]
	if after := strings.Fields(body[to:min(len(body), to+40)]); len(after) > 0 {
		words = append(words, after[:min(len(after), 2)]...)
	}
	thing, _ := sizedThing(strings.Join(words, " "))
	return thing
}
