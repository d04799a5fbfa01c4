package sheet

import (
	"regexp"
	"slices"
	"strings"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/hardware"
)

// tools lists what is needed in the hand, each tool once, with the steps that want it.
func (c *composer) tools() []Block {
	type need struct {
		name  string
		steps []int
	}
	var all []need
	add := func(name string, step int) {
		for i := range all {
			if all[i].name == name {
				if n := len(all[i].steps); n == 0 || all[i].steps[n-1] != step {
					all[i].steps = append(all[i].steps, step)
				}
				return
			}
		}
		all = append(all, need{name, []int{step}})
	}
	for n, i := range c.stepIndices() {
		for _, t := range c.stepTools(i) {
			add(t, n+1)
		}
	}
	if len(all) == 0 {
		return nil
	}
	list := Block{Kind: List}
	for _, t := range all {
		list.Items = append(list.Items, []Block{{Kind: Para, Spans: []Span{{Text: t.name, Strong: true}, {Text: ", " + c.stepList(t.steps)}}}})
	}
	return []Block{list}
}

// stepTools are the tools of one step: those that turn its fasteners, then those that are written and are not
// another word for one of them.
func (c *composer) stepTools(step int) []string {
	var out []string
	kinds := map[string]bool{}
	for _, it := range c.items {
		if it.Kind != design.FastenerItem || !usedIn(it, step) || strings.HasSuffix(it.Name, ".washer") {
			continue
		}
		f, _ := c.Design.Fastener(it.Base)
		if h := f.Into.Held; strings.HasSuffix(it.Name, ".nut") && h != nil && h.In.Set() {
			continue // the pocket holds the nut
		}
		text, _, _ := bom.Designation(f, it, c.Variant)
		d, err := hardware.ParseDesignation(text)
		if err != nil {
			continue
		}
		if t, _, ok := hardware.Tool(d); ok {
			kinds[t.Kind] = true
			if name := c.driver(t); !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	for _, t := range c.Design.Assembly[step].Tools {
		name := string(t.V)
		// "hex key 2.5" beside "2.5 mm hex key" would be two tools to a reader.
		switch d := writtenDriver(name); {
		case d.Size != "" || c.has("tool."+d.Kind):
			name = c.driver(d)
		case kinds[d.Kind]:
			continue
		}
		if !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// driverWords are how makers write the tools that the tables know, in lower case.
var driverWords = []struct{ word, kind string }{
	{"hex key", "hex key"}, {"allen", "hex key"}, {"innensechskant", "hex key"}, {"screwdriver", "screwdriver"}, {"schraubendreher", "screwdriver"},
	{"soldering iron", "soldering iron"}, {"lötkolben", "soldering iron"}, {"spanner", "spanner"}, {"wrench", "spanner"}, {"maulschlüssel", "spanner"},
}

var driverSize = regexp.MustCompile(`(?i)\b(PH\d|T\d{1,2}|\d+(?:[.,]\d+)?)\b`)

// writtenDriver reads a tool as a maker writes it: its kind, and its size when one stands there. The zero
// Driver is something else.
func writtenDriver(name string) hardware.Driver {
	low := strings.ToLower(name)
	for _, w := range driverWords {
		if !strings.Contains(low, w.word) {
			continue
		}
		d := hardware.Driver{Kind: w.kind}
		if m := driverSize.FindString(name); m != "" {
			d.Size = strings.ToUpper(strings.Replace(m, ",", ".", 1))
			if d.Size[0] >= '0' && d.Size[0] <= '9' {
				d.Size += " mm"
			}
		}
		return d
	}
	return hardware.Driver{}
}

func usedIn(it design.Item, step int) bool {
	return slices.ContainsFunc(it.UsedIn, func(u design.Use) bool { return u.Step == step && u.Count > 0 })
}
