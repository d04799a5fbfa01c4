package check

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/facts"
)

// firmwarePins: the pin constants of the firmware agree with the wiring.
//
// A constant belongs to a lead when its name holds the words of the part's name and of the lead's name, or when
// that lead is the only signal of the part: SERVO_PIN, SERVO_ORANGE. Its number may be that of the header's pin
// or the one in the signal's name (GPIO17). Where the signal's name has no number, firmware may count in a way
// that the profile does not know, so that nothing is judged.
func (w *wireRules) firmwarePins() {
	b := w.in.Facts.Boards
	file := string(w.in.Design.PinsIn.V)
	if file == "" || len(w.wires) == 0 {
		return
	}
	for _, x := range w.wires {
		for k, e := range [2]*facts.End{&x.From, &x.To} {
			lead := &x.To
			if k == 1 {
				lead = &x.From
			}
			if e.Kind != facts.EndPin || sortOf(e) != signal || lead.Kind != facts.EndLead {
				continue
			}
			at := endPlace(w.in.Design, x.Row, k)
			c := w.constantOf(b.Pins, lead)
			if c == nil {
				w.unknown(at, w.v, fmt.Sprintf("whether the firmware uses %s for %s: no constant in %s is named after it, such as %s", e.Text, lead.Text, file, strings.ToUpper(strings.ReplaceAll(lead.Thing, "-", "_"))+"_PIN"))
				continue
			}
			_, number, _ := strings.Cut(e.Pin, ".")
			inName := digits(e.Signal)
			switch {
			case strings.EqualFold(c.Value, number) || strings.EqualFold(c.Value, e.Signal) || strings.EqualFold(c.Value, e.Pin):
			case inName != "" && c.Value == inName:
			case inName == "" && digits(c.Value) == c.Value:
				w.unknown(at, w.v, fmt.Sprintf("whether %s = %s (%s:%d) is %s: the profile does not say how firmware counts its signals (%s)", c.Name, c.Value, file, c.Line, e.Text, e.Signal))
			default:
				w.r.add("pin-differs", at, w.v, fmt.Sprintf("%s is wired to %s (%s), and the firmware says %s = %s (%s:%d)", lead.Text, e.Text, e.Signal, c.Name, c.Value, file, c.Line), fmt.Sprintf("mend the row, or write %s %s in %s", c.Name, firstOf(inName, number), file))
			}
		}
	}
}

func firstOf(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// digits is the last number in a name: 17 for GPIO17; "" when there is none.
func digits(s string) string {
	isDigit := func(c byte) bool { return c >= '0' && c <= '9' }
	end := len(s)
	for end > 0 && !isDigit(s[end-1]) {
		end--
	}
	from := end
	for from > 0 && isDigit(s[from-1]) {
		from--
	}
	if n, err := strconv.Atoi(s[from:end]); err == nil {
		return strconv.Itoa(n)
	}
	return ""
}

// constantOf is the constant named after a lead, nil when there is none or more than one.
func (w *wireRules) constantOf(list []facts.PinConstant, lead *facts.End) *facts.PinConstant {
	part := nameWords(lead.Thing)
	only := true
	if b, ok := w.in.Design.BoughtPart(lead.Thing); ok {
		for _, l := range b.Leads.Entries {
			if l.Key != lead.Lead && (l.Value.V == "signal" || l.Value.V == "input" || l.Value.V == "output") {
				only = false
			}
		}
	}
	var found *facts.PinConstant
	for i := range list {
		left := nameWords(list[i].Name)
		if !takeAll(&left, part) {
			continue
		}
		left = slices.DeleteFunc(left, func(s string) bool { return slices.Contains([]string{"pin", "gpio", "io", "k"}, s) })
		if len(left) == 0 && !only || len(left) > 0 && !(takeAll(&left, nameWords(lead.Lead)) || takeAll(&left, []string{lead.Role})) || len(left) > 0 {
			continue
		}
		if found != nil {
			return nil
		}
		found = &list[i]
	}
	return found
}

// nameWords takes a name apart: SERVO_PIN, servoPin and servo-pin are servo, pin.
func nameWords(s string) []string {
	var out []string
	word := ""
	end := func() {
		if word != "" {
			out = append(out, strings.ToLower(word))
		}
		word = ""
	}
	for i, c := range s {
		switch {
		case c == '_' || c == '-' || c == '.':
			end()
			continue
		case c >= 'A' && c <= 'Z' && i > 0 && s[i-1] >= 'a' && s[i-1] <= 'z':
			end()
		}
		word += string(c)
	}
	end()
	return out
}

// takeAll removes words from a list; false, with the list as it was, when one is not in it.
func takeAll(list *[]string, words []string) bool {
	left := slices.Clone(*list)
	for _, w := range words {
		i := slices.Index(left, w)
		if i < 0 {
			return false
		}
		left = slices.Delete(left, i, i+1)
	}
	*list = left
	return true
}
