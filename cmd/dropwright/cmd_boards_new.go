package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
)

// measuredBoard is what a maker measured on a board with a caliper.
type measuredBoard struct {
	title, length, width, thickness, top, bottom string
	holes, ports                                 []string
	design                                       string
}

func (a *app) boardNewCmd() *cobra.Command {
	var m measuredBoard
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "write a profile from measurements with a caliper",
		Long: `Writes NAME.yaml, a board profile of your own, and NAME.svg, its drawing. Without measurements it
writes NAME-measure.svg instead: a picture of what to measure.

Put the board down with the component side up. The front edge is the one towards you.
  --hole D,LEFT,FRONT[,SCREW]   D across the hole; LEFT and FRONT from the edge to the hole's near rim
  --port ID,CONNECTOR,EDGE,NEAR,FAR[,OUT]
        EDGE front, back, left, right; NEAR and FAR from the left (or front) edge to the two sides of
        its body; OUT how far it stands out beyond the edge, 0 when left out
What you do not measure is left out of the profile, and what needs it is then not checked.`,
		Example: "  dropwright boards new relay\n  dropwright boards new relay --design duo --length 50.1 --width 26 --thickness 1.6 \\\n" +
			"    --hole 3.1,1.4,1.5,M3 --hole 3.1,45.5,1.5,M3 --top 15.5 --bottom 2 --port in,usb-c,front,20.5,29.5,0.8",
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return a.boardNew(args[0], m) },
	}
	f := cmd.Flags()
	f.StringVar(&m.title, "title", "", "what it is, in words (default: its name)")
	f.StringVar(&m.length, "length", "", "A: from the left to the right edge, mm")
	f.StringVar(&m.width, "width", "", "B: from the front to the back edge, mm")
	f.StringVar(&m.thickness, "thickness", "", "C: of the bare board, mm")
	f.StringVar(&m.top, "top", "", "the tallest part over the board, mm")
	f.StringVar(&m.bottom, "bottom", "", "the longest solder joint or part under it, mm")
	f.StringArrayVar(&m.holes, "hole", nil, "a mounting hole: D,LEFT,FRONT[,SCREW]; once for each")
	f.StringArrayVar(&m.ports, "port", nil, "a connector: ID,CONNECTOR,EDGE,NEAR,FAR[,OUT]; once for each")
	f.StringVar(&m.design, "design", "", "write into this design's boards folder (default: here)")
	return cmd
}

func (a *app) boardNew(name string, m measuredBoard) error {
	if k := design.Kebab(name); k != name {
		return usage("`dropwright boards new "+k+"`", "a board's name has lower-case letters, digits and single hyphens, found %q", name)
	}
	if _, err := board.Load(name); err == nil {
		return usage("choose another name", "%s is a built-in profile", name)
	}
	dir, inDesign := a.dir, ""
	if m.design != "" {
		s, err := a.sound()
		if err != nil {
			return err
		}
		defer s.close()
		one, err := a.oneDesign(s, []string{m.design})
		if err != nil {
			return err
		}
		dir, inDesign = filepath.Join(s.dir, catalogue.DesignsDir, one, "boards"), one
	}
	if m.length == "" && m.width == "" && len(m.holes) == 0 && len(m.ports) == 0 {
		file := filepath.Join(dir, name+"-measure.svg")
		if err := a.fresh(file, []byte(drawMeasures())); err != nil {
			return err
		}
		a.ui.say("it shows what to measure\nnext: `dropwright boards new %s --length A --width B --thickness C --hole D,LEFT,FRONT …`", name)
		return nil
	}
	text, err := m.profile(name)
	if err != nil {
		return err
	}
	yaml, svg := filepath.Join(dir, name+".yaml"), filepath.Join(dir, name+".svg")
	p, found := board.Parse(a.shown(yaml), []byte(text))
	if p == nil || finding.Count(found, finding.Error) > 0 {
		hint := "measure again"
		if len(found) > 0 {
			return usage(found[0].Hint, "these measurements make no board: %s", found[0].Text)
		}
		return usage(hint, "these measurements make no board")
	}
	if _, err := os.Lstat(svg); err == nil {
		return refused("remove it, or choose another name", "there is a file %s already", a.shown(svg))
	}
	if err := a.fresh(yaml, []byte(text)); err != nil {
		return err
	}
	if err := a.fresh(svg, []byte(drawBoard(p))); err != nil {
		return err
	}
	use := "name it in a variant: board: boards/" + name + ".yaml"
	if inDesign == "" {
		use = "put it into a design's boards folder and " + use
	}
	a.ui.say("next: compare the drawing with the board, then %s", use)
	return nil
}

// fresh writes a file that must not be there yet.
func (a *app) fresh(file string, data []byte) error {
	if _, err := os.Lstat(file); err == nil {
		return refused("remove it, or choose another name", "there is a file %s already", a.shown(file))
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		return machine("check that you may write there", "%w", err)
	}
	return a.writeFile(file, data)
}

// caliper reads one measurement. Nothing on a board that a caliper measures is negative or beyond half a metre.
func caliper(flag, s string) (float64, error) {
	v, err := unit.ParseNumber(strings.TrimSpace(s))
	if err != nil || v < 0 || v > 500 {
		return 0, usage("measure in millimetres, with a point: 12.35", "%s: expected a measurement from 0 to 500 mm, found %q", flag, s)
	}
	return v, nil
}

// profile is the profile's text. Figures keep two decimals, as calipers show them.
func (m measuredBoard) profile(name string) (string, error) {
	if m.length == "" || m.width == "" {
		return "", usage("measure over all, from edge to edge", "--length and --width are needed")
	}
	length, err := caliper("--length", m.length)
	if err != nil {
		return "", err
	}
	width, err := caliper("--width", m.width)
	if err != nil {
		return "", err
	}
	title := m.title
	if title == "" {
		title = strings.ReplaceAll(name, "-", " ") + " board"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# Measured with a caliper; a tenth of a millimetre either way is usual.\nprofile: 1\nid: %s\ntitle: %q\ndatum: {origin: lower-left, x: front-edge, z0: board-top}\n", name, title)
	fmt.Fprintf(&b, "outline: {length: %s, width: %s", num(length), num(width))
	var thickness float64
	if m.thickness != "" {
		if thickness, err = caliper("--thickness", m.thickness); err != nil {
			return "", err
		}
		fmt.Fprintf(&b, ", thickness: %s", num(thickness))
	}
	b.WriteString("}\n")
	var heights []string
	for _, h := range [][2]string{{"top", m.top}, {"bottom", m.bottom}} {
		if h[1] == "" {
			continue
		}
		v, err := caliper("--"+h[0], h[1])
		if err != nil {
			return "", err
		}
		heights = append(heights, h[0]+": "+num(v))
	}
	if len(heights) > 0 {
		fmt.Fprintf(&b, "heights: {%s}\n", strings.Join(heights, ", "))
	}
	if len(m.holes) > 0 {
		b.WriteString("mounts:\n")
	}
	for i, h := range m.holes {
		f := strings.Split(h, ",")
		if len(f) != 3 && len(f) != 4 {
			return "", usage("write --hole 3.1,1.4,1.5 or --hole 3.1,1.4,1.5,M3", "--hole: expected D,LEFT,FRONT[,SCREW], found %q", h)
		}
		var v [3]float64
		for k := range v {
			if v[k], err = caliper("--hole", f[k]); err != nil {
				return "", err
			}
		}
		// The caliper finds the near rim; the middle lies half the hole farther.
		fmt.Fprintf(&b, "  - {id: M%d, x: %s, y: %s, hole: %s", i+1, num(v[1]+v[0]/2), num(v[2]+v[0]/2), num(v[0]))
		if len(f) == 4 {
			fmt.Fprintf(&b, ", screw: %s", strings.TrimSpace(f[3]))
		}
		b.WriteString("}\n")
	}
	if len(m.ports) > 0 {
		b.WriteString("ports:\n")
	}
	for _, t := range m.ports {
		line, err := m.port(t, length, width)
		if err != nil {
			return "", err
		}
		b.WriteString(line)
	}
	b.WriteString("basis_default: measured\nsources: [{id: S1, title: measured with a caliper}]\n")
	return b.String(), nil
}

// edges says for each edge the direction in which a plug goes in and the axis along it.
var edges = map[string][2]string{"front": {"+y", "x"}, "back": {"-y", "x"}, "left": {"+x", "y"}, "right": {"-x", "y"}}

func (m measuredBoard) port(t string, length, width float64) (string, error) {
	f := strings.Split(t, ",")
	if len(f) != 5 && len(f) != 6 {
		return "", usage("write --port usb,usb-c,front,20.5,29.5 or, standing out, --port usb,usb-c,front,20.5,29.5,0.8", "--port: expected ID,CONNECTOR,EDGE,NEAR,FAR[,OUT], found %q", t)
	}
	for i := range f {
		f[i] = strings.TrimSpace(f[i])
	}
	e, ok := edges[f[2]]
	if !ok {
		return "", usage("write front, back, left or right", "--port: expected an edge, found %q", f[2])
	}
	if !slices.Contains(board.Families(), f[1]) {
		hint := "connectors: " + strings.Join(board.Families(), ", ")
		if near := finding.Nearest(f[1], board.Families()); near != "" {
			hint = "did you mean " + near + "? " + hint
		}
		return "", usage(hint, "--port: no connector is called %q", f[1])
	}
	near, err := caliper("--port", f[3])
	if err != nil {
		return "", err
	}
	far, err := caliper("--port", f[4])
	if err != nil {
		return "", err
	}
	out := 0.0
	if len(f) == 6 {
		if out, err = caliper("--port", f[5]); err != nil {
			return "", err
		}
	}
	face := map[string]float64{"front": -out, "left": -out, "back": width + out, "right": length + out}[f[2]]
	return fmt.Sprintf("  - {id: %s, connector: %s, required: true, side: top, insertion: %q, axis: {%s: %s}, face: %s}\n", f[0], f[1], e[0], e[1], num((near+far)/2), num(face)), nil
}
