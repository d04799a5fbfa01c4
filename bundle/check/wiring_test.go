package check

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/manifest"
)

const bench = `profile: 1
id: bench
title: bench board
outline: {length: 50, width: 30, thickness: 1.6}
headers:
  - {id: J1, rows: 1, columns: 8, pitch: 2.54, signal_volts: 3.3, pins: {1: 5V, 2: 5V, 3: 3V3, 4: GND, 5: GPIO5, 6: GPIO6, 7: 24V}}
rails:
  - {id: 5V, role: output, volts: 5, amps: 0.5}
  - {id: 3V3, role: output, volts: 3.3, watts_guaranteed: 0.33}
  - {id: 24V, role: output, volts: 24}
  - {id: WIDE, role: output, volts_min: 8, volts_max: 18, amps: 1}
  - {id: VIN, role: input, volts_min: 7, volts_max: 12, amps: 0.3}
  - {id: LINE, role: output, volts: 24, ac: true}
  - {id: HIGH, role: output, volts: 48, ac: true}
  - {id: CELL, role: output, volts: 3.7, hazard: lithium}
  - {id: GND, role: return}
`

// wired judges rows of wiring for a few bought parts on the bench board.
func wired(t *testing.T, bought, rows string) (found, open []string) {
	t.Helper()
	return wiredWith(t, bought, rows, "")
}

// wiredWith judges with a firmware file beside it.
func wiredWith(t *testing.T, bought, rows, firmware string) (found, open []string) {
	t.Helper()
	text := "title: X\nsummary: X.\nchanges: [{revision: 1.0.0, date: 2027-01-05, text: x}]\nlicence: CC0-1.0\ncolours: {body: clay}\n" +
		"variants: [{name: a, board: boards/bench.yaml, sits_in: box}]\nparts: [{name: box, colour: body, mesh: box.stl}]\nbought:\n" + bought + "\nwiring:\n  seen_from: component side\n  rows:\n" + rows + "\n"
	d, _, problems := manifest.Decode("x", "design.yaml", []byte(text), manifest.Context{Filaments: []string{"clay"}})
	for _, p := range problems {
		t.Fatalf("the case itself: %v %s", p.At, p.Text)
	}
	profiles := fit.NewProfiles("design.yaml", func(string) ([]byte, error) { return []byte(bench), nil })
	b := &facts.Boards{Wires: profiles.Wires(d), Pins: fit.PinConstants(firmware)}
	for _, p := range profiles.Facts() {
		if len(p.Faults) > 0 {
			t.Fatalf("the profile: %v", p.Faults)
		}
	}
	r := &report{variants: d.VariantNames()}
	wiring(&Input{Design: d, Facts: &facts.Design{Measured: facts.Measured{Boards: b}}, House: &design.House{}}, r)
	for _, f := range r.merged() {
		found = append(found, fmt.Sprintf("%s %d", f.Code, f.At.Line))
		if f.Hint == "" || f.Text == "" || !f.At.Known() {
			t.Errorf("%s has no hint, text or place: %+v", f.Code, f)
		}
		t.Log(f.Text)
	}
	for _, n := range r.notChecked {
		open = append(open, n.Text)
	}
	return found, open
}

// Lines are counted as if there were one bought part: it stands on line 9, the rows from line 11 on.
func TestWiringTable(t *testing.T) {
	const (
		servo = "  - {name: servo, what: servo, volts: [4.8, 6.0], milliamps: 250, leads: {brown: ground, red: supply, orange: signal}}"
		motor = "  - {name: motor, what: motor, volts: 12, starts_at: 6, milliamps: 300, leads: {red: supply, black: ground}}"
		lamp  = "  - {name: lamp, what: lamp, volts: 3.3, milliamps: 90, leads: {a: supply, k: ground}}"
		pump  = "  - {name: pump, what: pump, volts: 5, milliamps: 300, leads: {red: supply, black: ground}}"
		usb   = "  - {name: usb, what: USB lead, volts: 5, leads: {red: plus, black: minus}}"
		mute  = "  - {name: mute, what: sensor without a sheet, leads: {red: supply, black: ground, w: signal}}"
	)
	for _, c := range []struct {
		name         string
		bought, rows []string
		want         []string
		open         string // must be among what was not checked
	}{
		{"all is well", []string{servo}, []string{"servo.brown board.GND", "servo.red board.5V", "servo.orange board.J1.5"}, nil, "3.3 V of board.J1.5"},
		{"an exact pin of a rail", []string{servo}, []string{"servo.brown board.J1.4", "servo.red board.J1.1"}, nil, ""},
		{"leads swapped", []string{servo}, []string{"servo.brown board.5V", "servo.red board.GND"}, []string{"lead-crossed 11"}, ""},
		{"ground on a supply", []string{servo}, []string{"servo.brown board.5V", "servo.red board.J1.1"}, []string{"lead-crossed 11"}, ""},
		{"signal on a supply", []string{servo}, []string{"servo.brown board.GND", "servo.red board.5V", "servo.orange board.3V3"}, []string{"lead-crossed 13"}, ""},
		{"ground on a signal", []string{servo}, []string{"servo.brown board.J1.6", "servo.red board.5V"}, []string{"lead-crossed 11"}, ""},
		{"a signal pin as supply", []string{servo}, []string{"servo.brown board.GND", "servo.red board.J1.6"}, []string{"pin-signal 12"}, ""},
		{"unknown pin", []string{servo}, []string{"servo.brown board.GND", "servo.red board.J1.77"}, []string{"pin-unknown 12"}, ""},
		{"unknown rail", []string{servo}, []string{"servo.brown board.GND", "servo.red board.6V"}, []string{"pin-unknown 12"}, ""},
		{"unknown header", []string{servo}, []string{"servo.brown board.GND", "servo.red board.J9.1"}, []string{"pin-unknown 12"}, ""},
		{"a pin of which nothing is known", []string{servo}, []string{"servo.brown board.GND", "servo.red board.5V", "servo.orange board.J1.8"}, nil, "what is on board.J1.8"},
		{"too many volts", []string{servo}, []string{"servo.brown board.GND", "servo.red board.24V"}, []string{"volts-outside 12"}, ""},
		{"too few volts", []string{servo}, []string{"servo.brown board.GND", "servo.red board.3V3"}, []string{"rail-overloaded 12", "volts-outside 12"}, ""},
		{"a rail that may be outside", []string{motor}, []string{"motor.red board.WIDE", "motor.black board.GND"}, []string{"volts-outside 11"}, ""},
		{"low, but it starts", []string{strings.Replace(motor, "starts_at: 6", "starts_at: 4", 1)}, []string{"motor.red board.5V", "motor.black board.GND"}, []string{"volts-low 11"}, ""},
		{"lower than it starts", []string{motor}, []string{"motor.red board.5V", "motor.black board.GND"}, []string{"volts-outside 11"}, ""},
		{"two on a rail within its limit", []string{servo, strings.Replace(pump, "300", "250", 1)}, []string{"servo.red board.5V", "pump.red board.5V", "servo.brown board.GND", "pump.black board.GND"}, nil, ""},
		{"two on a rail above its limit", []string{servo, pump}, []string{"servo.red board.5V", "pump.red board.5V", "servo.brown board.GND", "pump.black board.GND"}, []string{"rail-overloaded 11"}, ""},
		{"a limit in watts", []string{lamp}, []string{"lamp.a board.3V3", "lamp.k board.GND"}, nil, ""},
		{"a limit in watts, exceeded", []string{strings.Replace(lamp, "90", "110", 1)}, []string{"lamp.a board.3V3", "lamp.k board.GND"}, []string{"rail-overloaded 11"}, ""},
		{"no limit stated", []string{strings.Replace(motor, "volts: 12", "volts: 24", 1)}, []string{"motor.red board.24V", "motor.black board.GND"}, nil, "not known what that may give"},
		{"two leads on one pin", []string{servo, strings.Replace(pump, "300", "100", 1)}, []string{"servo.red board.J1.1", "pump.red board.J1.1", "servo.brown board.GND", "pump.black board.GND"}, []string{"pin-shared 12"}, ""},
		{"three leads on a rail of two pins", []string{servo, strings.Replace(pump, "300", "100", 1), strings.Replace(usb, "plus", "supply", 1)}, []string{"servo.red board.5V", "pump.red board.5V", "usb.red board.5V", "servo.brown board.GND", "pump.black board.GND", "usb.black board.GND"}, []string{"pin-shared 13"}, ""},
		{"a shared ground", []string{servo, lamp}, []string{"servo.brown board.J1.4", "lamp.k board.J1.4", "servo.red board.5V", "lamp.a board.3V3"}, nil, ""},
		{"lead to lead", []string{pump, usb}, []string{"pump.red usb.red", "pump.black usb.black"}, nil, "current of pump on usb.red"},
		{"lead to lead, crossed", []string{pump, usb}, []string{"pump.red usb.black", "pump.black usb.red"}, []string{"lead-crossed 11"}, ""},
		{"a bought supply feeds the board, outside", []string{usb}, []string{"usb.red board.VIN", "usb.black board.GND"}, []string{"volts-outside 11"}, ""},
		{"a bought supply feeds the board", []string{strings.Replace(usb, "volts: 5", "volts: 9", 1)}, []string{"usb.red board.VIN", "usb.black board.GND"}, nil, "not known what that may give"},
		{"a board's input passes on", []string{strings.Replace(motor, "volts: 12", "volts: [7, 12]", 1)}, []string{"motor.red board.VIN", "motor.black board.GND"}, nil, ""},
		{"no volts stated", []string{mute}, []string{"mute.red board.5V", "mute.black board.GND"}, nil, "mute states no volts"},
		{"ground goes nowhere", []string{servo}, []string{"servo.red board.5V", "servo.orange board.J1.5"}, []string{"lead-loose 9"}, ""},
		{"mains by mark", []string{"  - {name: heater, what: heater, volts: 12, milliamps: 9000, hazard: mains, leads: {red: supply, black: ground}}"}, []string{"heater.red board.5V", "heater.black board.GND"}, []string{"mains-present 9"}, "safety of heater"},
		{"mains by its leads", []string{"  - {name: heater, what: heater, leads: {brown: live, blue: neutral}}"}, []string{"heater.brown board.5V", "heater.blue board.GND"}, []string{"mains-present 9"}, "safety of heater"},
		{"above 60 V", []string{"  - {name: tube, what: tube, volts: 90, leads: {red: supply, black: ground}}"}, []string{"tube.red board.5V", "tube.black board.GND"}, []string{"mains-present 9"}, "safety of tube"},
		{"24 V of alternating current is judged", []string{strings.Replace(motor, "volts: 12", "volts: 24", 1)}, []string{"motor.red board.LINE", "motor.black board.GND"}, nil, ""},
		{"48 V of alternating current is not", []string{strings.Replace(motor, "volts: 12", "volts: 24", 1)}, []string{"motor.red board.HIGH", "motor.black board.GND"}, []string{"mains-present 11"}, "safety of rail HIGH"},
		{"lithium cell", []string{"  - {name: cell, what: cell, volts: 3.7, hazard: lithium, leads: {red: plus, black: minus}}"}, []string{"cell.red board.VIN", "cell.black board.GND"}, []string{"lithium-present 9"}, "safety of cell"},
		{"a rail fed by lithium cells", []string{lamp}, []string{"lamp.a board.CELL", "lamp.k board.GND"}, []string{"lithium-present 11"}, "safety of rail CELL"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var rows []string
			for _, r := range c.rows {
				from, to, _ := strings.Cut(r, " ")
				rows = append(rows, fmt.Sprintf("    - {from: %s, to: %s}", from, to))
			}
			found, open := wired(t, strings.Join(c.bought, "\n"), strings.Join(rows, "\n"))
			// Lines depend on how many parts there are; the table counts as if there were one.
			for i, f := range found {
				var code string
				var line int
				fmt.Sscan(f, &code, &line)
				if line > 9+len(c.bought) {
					found[i] = fmt.Sprintf("%s %d", code, line-len(c.bought)-1)
				}
			}
			want := slices.Clone(c.want)
			slices.Sort(found)
			if !slices.Equal(found, want) {
				t.Errorf("found %q, want %q; not checked %q", found, want, open)
			}
			if c.open != "" && !slices.ContainsFunc(open, func(s string) bool { return strings.Contains(s, c.open) }) {
				t.Errorf("not checked: %q, want %q among it", open, c.open)
			}
		})
	}
}

// SERVO_PIN and its kin against the wiring: the header's number, the number in the signal's name, neither.
func TestFirmwarePins(t *testing.T) {
	const servo = "  - {name: servo, what: servo, volts: [4.8, 6.0], milliamps: 250, leads: {brown: ground, red: supply, orange: signal}}"
	const sonar = "  - {name: sonar, what: sonar, volts: 5, milliamps: 15, leads: {r: supply, b: ground, trigger: input, echo: output}}"
	for _, c := range []struct {
		name, bought, pins string
		rows               []string
		want               []string
		open               string
	}{
		{"header's number", servo, "#define SERVO_PIN 5", []string{"servo.orange board.J1.5"}, nil, ""},
		{"number in the signal's name", servo, "const int servoPin = 6;", []string{"servo.orange board.J1.6"}, nil, ""},
		{"another", servo, "#define SERVO_PIN (6) // was 5\n", []string{"servo.orange board.J1.5"}, []string{"pin-differs"}, ""},
		{"by the lead", sonar, "SONAR_TRIGGER = 5\nSONAR_ECHO = 6\n", []string{"sonar.trigger board.J1.6", "sonar.echo board.J1.5"}, []string{"pin-differs", "pin-differs"}, ""},
		{"none named after it", servo, "#define LAMP_PIN 5", []string{"servo.orange board.J1.5"}, nil, "SERVO_PIN"},
		{"two of one name", servo, "#define SERVO_PIN 5\n#define SERVO_GPIO 6", []string{"servo.orange board.J1.5"}, nil, "SERVO_PIN"},
		{"two signals, and a constant for either", sonar, "#define SONAR_PIN 5", []string{"sonar.echo board.J1.5"}, nil, "SONAR_PIN"},
	} {
		var rows []string
		for _, r := range append([]string{strings.Fields(c.rows[0])[0][:5] + map[bool]string{true: ".red board.5V", false: ".r board.5V"}[strings.HasPrefix(c.rows[0], "servo")],
			strings.Fields(c.rows[0])[0][:5] + map[bool]string{true: ".brown board.GND", false: ".b board.GND"}[strings.HasPrefix(c.rows[0], "servo")]}, c.rows...) {
			from, to, _ := strings.Cut(r, " ")
			rows = append(rows, fmt.Sprintf("    - {from: %s, to: %s}", from, to))
		}
		found, open := wiredWith(t, c.bought, strings.Join(rows, "\n")+"\npins_in: pins.h", c.pins)
		for i := range found {
			found[i], _, _ = strings.Cut(found[i], " ")
		}
		if !slices.Equal(found, c.want) {
			t.Errorf("%s: found %q, want %q; not checked %q", c.name, found, c.want, open)
		}
		if c.open != "" && !slices.ContainsFunc(open, func(s string) bool { return strings.Contains(s, c.open) }) {
			t.Errorf("%s: not checked %q, want %q among it", c.name, open, c.open)
		}
	}
}
