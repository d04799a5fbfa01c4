package sheet

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

// signals gives each caution the signal word of ISO 3864-2 and ANSI Z535.6: danger where death or serious
// injury will follow, warning where it could, caution where a minor or moderate injury could, notice where
// only things can come to harm. The choice per caution is ours: by the worst that can ordinarily happen.
var signals = map[string]string{
	"mains":       "danger",
	"lithium":     "warning", // fire
	"laser":       "warning", // eyesight
	"magnets":     "warning", // two swallowed magnets pinch the gut
	"small-parts": "warning", // choking
	"eyes":        "warning",
	"hot":         "caution",
	"fumes":       "caution",
	"ventilation": "caution",
	"sharp":       "caution",
	"pinch":       "caution",
	"print-fumes": "caution",
	"supports":    "caution",
	"esd":         "notice",
	"polarity":    "notice",
	"softens":     "notice",
}

// signalOrder is the order of gravity.
var signalOrder = []string{"danger", "warning", "caution", "notice"}

// hazards says which caution a bought part's hazard calls for.
var hazards = map[design.Hazard]string{"mains": "mains", "lithium": "lithium", "hot": "hot", "laser": "laser", "magnet": "magnets"}

// toolCautions says which cautions a tool calls for, by a word in its name. Common practice, no source.
var toolCautions = []struct {
	word     string
	cautions []string
}{
	{"soldering", []string{"hot", "fumes"}}, {"lötkolben", []string{"hot", "fumes"}}, {"hot air", []string{"hot"}}, {"heat gun", []string{"hot"}}, {"heissluft", []string{"hot"}}, {"heißluft", []string{"hot"}},
	{"knife", []string{"sharp"}}, {"messer", []string{"sharp"}}, {"scalpel", []string{"sharp"}}, {"skalpell", []string{"sharp"}}, {"saw", []string{"sharp"}}, {"säge", []string{"sharp"}},
	{"drill", []string{"eyes", "sharp"}}, {"bohr", []string{"eyes", "sharp"}},
}

// fuming are the materials that give off styrene and need moving air while they are printed. Common practice,
// no standard.
var fuming = []string{"ABS", "ASA", "HIPS", "PC"}

// warmPlaces are the words of `used_in` where a sun-warmed part may reach the temperature at which it gives way.
var warmPlaces = []string{"outdoors", "greenhouse", "car", "window", "garden", "balcony"}

// warning is one caution with the places that call for it.
type warning struct {
	key    string
	steps  []int // numbers as printed
	things []string
	text   string // filled text where it takes more than the key
}

// cautionKeys returns the cautions of one step: those that are written and those that its tools and the inserts
// and boards it takes call for.
func (c *composer) cautionKeys(step int) []string {
	s := c.Design.Assembly[step]
	var out []string
	add := func(k string) {
		if k != "" && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	for _, x := range s.Cautions {
		add(string(x.V))
	}
	for _, t := range s.Tools {
		for _, w := range toolCautions {
			if strings.Contains(strings.ToLower(string(t.V)), w.word) {
				for _, k := range w.cautions {
					add(k)
				}
			}
		}
	}
	for _, it := range c.items {
		for _, u := range it.UsedIn {
			if u.Step != step {
				continue
			}
			switch {
			case it.Kind == design.BoardItem:
				add("esd")
			case strings.HasSuffix(it.Name, ".insert"):
				add("hot")
				add("fumes")
			case it.Kind == design.BoughtItem:
				b, _ := c.Design.BoughtPart(it.Name)
				add(hazards[b.Hazard.V])
			}
		}
	}
	slices.SortStableFunc(out, c.graver)
	return out
}

func (c *composer) graver(a, b string) int {
	return cmp.Compare(slices.Index(signalOrder, signals[a]), slices.Index(signalOrder, signals[b]))
}

// caution makes the printed form of a key.
func (c *composer) caution(key string) Caution {
	s := signals[key]
	return Caution{Key: key, Signal: s, Word: c.say("signal." + s), Text: c.say("caution." + key)}
}

// safety gathers every caution of the sheet in one box, gravest first, with where each applies.
func (c *composer) safety() []Block {
	var all []*warning
	find := func(key string) *warning {
		for _, w := range all {
			if w.key == key {
				return w
			}
		}
		all = append(all, &warning{key: key})
		return all[len(all)-1]
	}
	thing := func(key, name string) {
		if w := find(key); !slices.Contains(w.things, name) {
			w.things = append(w.things, name)
		}
	}
	for n, i := range c.stepIndices() {
		for _, k := range c.cautionKeys(i) {
			w := find(k)
			w.steps = append(w.steps, n+1)
		}
	}
	for _, s := range c.Design.Supplies {
		if s.Only.Has(c.Variant) {
			for _, k := range s.Cautions {
				thing(string(k.V), string(s.What.V))
			}
		}
	}
	for _, b := range c.Design.Bought {
		if k := hazards[b.Hazard.V]; k != "" && b.Only.Has(c.Variant) {
			thing(k, string(b.What.V))
		}
	}
	for _, w := range c.wires() {
		for _, e := range []ending{w.from, w.to} {
			if k := hazards[design.Hazard(e.hazard)]; k != "" {
				thing(k, e.thing+" "+e.lead)
			}
		}
	}
	for _, p := range c.printed() {
		if p.supports {
			thing("supports", p.name)
		}
	}
	warm := slices.ContainsFunc(c.Design.UsedIn, func(v design.Val[design.Text]) bool { return slices.Contains(warmPlaces, strings.ToLower(string(v.V))) })
	for _, m := range c.materials() {
		if slices.Contains(fuming, strings.ToUpper(m)) {
			thing("print-fumes", m)
		}
		f, ok := hardware.FilamentOf(m)
		if !ok || !warm {
			continue
		}
		if t, ok := f.Softens(); ok {
			w := find("softens")
			w.text = join(" ", w.text, c.say("caution.softens", m, c.number(t, 0)))
		}
	}
	slices.SortStableFunc(all, func(a, b *warning) int { return c.graver(a.key, b.key) })

	box := Block{Kind: Warnings}
	used := map[string]bool{}
	for _, w := range all {
		x := c.caution(w.key)
		if w.text != "" {
			x.Text = w.text
		}
		x.Where = join("; ", c.stepList(w.steps), c.list(w.things))
		if w.key == "print-fumes" || w.key == "supports" {
			x.Where = c.say("parts of", c.list(w.things))
		}
		used[x.Signal] = true
		box.Cautions = append(box.Cautions, x)
	}
	var out []Block
	if len(box.Cautions) > 0 {
		out = append(out, box)
		meaning := Block{Kind: Small}
		for _, s := range signalOrder {
			if used[s] {
				meaning.Spans = append(meaning.Spans, Span{Text: c.say("signal." + s), Strong: true}, Span{Text: " " + c.say("meaning."+s) + " "})
			}
		}
		out = append(out, meaning)
	}
	return append(out, text(Para, c.say("safety local")), text(Small, c.say("safety nothing claimed")))
}

// stepList writes "steps 1, 2 and 5".
func (c *composer) stepList(steps []int) string {
	var words []string
	for _, n := range steps {
		words = append(words, strconv.Itoa(n))
	}
	switch len(words) {
	case 0:
		return ""
	case 1:
		return c.say("step n", words[0])
	}
	return c.say("steps n", c.list(words))
}
