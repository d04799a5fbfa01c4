package check

import (
	"fmt"
	"math"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// counts: every part, bought part, fastener and sub-assembly is used in the steps exactly as often as it is
// listed, per variant.
func counts(in *Input, r *report) {
	if len(in.Design.Assembly) == 0 {
		return // whether steps are missing is asked by steps
	}
	for _, v := range in.Design.VariantNames() {
		items, _ := in.Design.Tally(v)
		off := map[string]float64{} // by how much the whole fasteners are off
		for _, it := range items {
			if it.Reaching {
				off[it.Name] = it.Used - it.Listed
			}
		}
		for _, it := range items {
			if d := off[it.Base]; it.Name != it.Base && d != 0 && (it.Used-it.Listed)*d > 0 {
				continue // its insert, nut or washer is off because the fastener is: one mistake, one finding
			}
			judgeCount(in.Design, v, it, r)
		}
	}
}

func judgeCount(d *design.Design, v string, it design.Item, r *report) {
	const hair = 1e-9 // counts are small decimals; anything above is meant
	diff := it.Used - it.Listed
	used, listed := unit.Number(it.Used), unit.Number(it.Listed)
	at := countPlace(d, it)
	switch {
	case math.Abs(diff) <= hair:
	case it.Free && diff < 0:
	case it.Free && isConsumable(d, it):
	case it.Used == 0:
		r.add("item-unused", at, v, fmt.Sprintf("%s is listed (%s) and no step uses it", it.Name, listed),
			fmt.Sprintf("add it to the uses of the step that needs it: uses: {%s: %s}; or mark it optional: true", it.Name, listed))
	case diff > 0 && it.Kind == design.MadeItem:
		r.add("count-short", at, v, fmt.Sprintf("%s: the steps make %s and use %s (%s)", it.Name, listed, used, stepsOf(d, it)), "raise times in the step that makes it, or mend the uses")
	case diff > 0:
		r.add("count-short", at, v, fmt.Sprintf("%s: the list holds %s, the steps use %s (%s)", it.Name, listed, used, stepsOf(d, it)),
			fmt.Sprintf("write %s here, or mend the step that takes too many", countHint(it, used)))
	default:
		r.add("count-over", at, v, fmt.Sprintf("%s: the list holds %s, the steps use %s (%s)", it.Name, listed, used, stepsOf(d, it)),
			fmt.Sprintf("write %s here, or add the step that uses the other %s", countHint(it, used), unit.Number(-diff)))
	}
}

// countHint is what to write to list n of an item.
func countHint(it design.Item, n string) string {
	switch {
	case strings.HasSuffix(it.Name, ".mirrored"):
		return "mirrored: " + n
	case it.Kind == design.PartItem:
		return "copies: " + n
	case it.Name != it.Base:
		return "a count of " + n + " for " + it.Base
	}
	return "count: " + n
}

// countPlace is where the figure stands: the count if it is written, else the name.
func countPlace(d *design.Design, it design.Item) finding.Place {
	switch it.Kind {
	case design.PartItem:
		if p, ok := d.Part(it.Base); ok && it.Name == it.Base && p.Copies.Set() {
			return p.Copies.At
		}
	case design.BoughtItem:
		if b, ok := d.BoughtPart(it.Base); ok && b.Count.Set() {
			return b.Count.At
		}
	case design.FastenerItem:
		if f, ok := d.Fastener(it.Base); ok && f.Count.Set() {
			return f.Count.At
		}
	}
	return it.At
}

func isConsumable(d *design.Design, it design.Item) bool {
	if b, ok := d.BoughtPart(it.Base); ok {
		return bool(b.Consumable.V)
	}
	if f, ok := d.Fastener(it.Base); ok {
		return bool(f.Consumable.V)
	}
	return false
}

// stepsOf names the steps that use an item: "step 2 uses 4, step 5 uses 2".
func stepsOf(d *design.Design, it design.Item) string {
	var out []string
	for _, u := range it.UsedIn {
		out = append(out, fmt.Sprintf("step %d, line %d: %s", u.Step+1, u.At.Line, unit.Number(u.Count)))
	}
	if len(out) > 4 {
		out = append(out[:4], "…")
	}
	return strings.Join(out, "; ")
}
