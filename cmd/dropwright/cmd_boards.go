package main

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
	"dropwright/series/disk"
)

func (a *app) boardsCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "boards",
		Short: "list, show and write board profiles; say where boards sit",
		Long: `Lists the board profiles that designs may name: those built in, and, inside a series, the designs'
own. Every figure of a profile says where it comes from; what is not known is left out, and what
needs it is not checked.`,
		Example: "  dropwright boards\n  dropwright boards show 96boards-ce\n  dropwright boards show pc104 --format svg --output pc104.svg\n" +
			"  dropwright boards seats vent-minder   # where its boards sit, what their plugs meet\n  dropwright boards new relay           # what to measure, with a picture",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return a.boardList() },
	}
	a.formatFlag(cmd, "text", "json")
	show := &cobra.Command{
		Use:               "show ID|NAME|FILE",
		Short:             "print a board's dimensions, or draw them",
		Example:           "  dropwright boards show 96boards-ce\n  dropwright boards show designs/duo/boards/relay.yaml --format svg --output relay.svg",
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: cobra.FixedCompletions(board.Builtin(), cobra.ShellCompDirectiveDefault),
		RunE:              func(cmd *cobra.Command, args []string) error { return a.boardShow(args[0]) },
	}
	a.formatFlag(show, "text", "svg", "json", "yaml")
	a.outputFlag(show, "write to this file instead of the terminal")
	cmd.AddCommand(show, a.boardSeatsCmd(), a.boardNewCmd())
	return cmd
}

// boardRow is one profile in the list.
type boardRow struct {
	ID       string         `json:"id"` // as a manifest names it
	Title    string         `json:"title"`
	Kind     string         `json:"kind,omitempty"`
	Standard string         `json:"standard,omitempty"`
	Edition  string         `json:"edition,omitempty"`
	File     string         `json:"file,omitempty"` // of a design's own profile
	Length   board.Length   `json:"length_mm,omitzero"`
	Width    board.Length   `json:"width_mm,omitzero"`
	Mounts   int            `json:"mounts"`
	Ports    int            `json:"ports"`
	Headers  int            `json:"headers"`
	UsedBy   []string       `json:"used_by,omitempty"` // design, variant
	Sources  []board.Source `json:"sources"`
}

// boardRows lists the built-in profiles, and those of the designs where this is a series.
func (a *app) boardRows() ([]boardRow, error) {
	var rows []boardRow
	add := func(id, file string, p *board.Profile) {
		rows = append(rows, boardRow{ID: id, Title: p.Title.S, Kind: p.Kind.S, Standard: p.Designation.Standard.S, Edition: p.Designation.Edition.S, File: file,
			Length: p.Outline.Length, Width: p.Outline.Width, Mounts: len(p.Mounts), Ports: len(p.Ports), Headers: len(p.Headers), Sources: p.Sources})
	}
	for _, id := range board.Builtin() {
		p, err := board.Load(id)
		if err != nil {
			return nil, machine("", "%w", err)
		}
		add(id, "", p)
	}
	if _, err := a.findSeries(); err != nil {
		return rows, nil // the list is of use without a series
	}
	s, err := a.openSeries()
	if err != nil {
		return nil, err
	}
	defer s.close()
	own := func(name, id string) int {
		file := s.Path(name, id)
		data, err := s.root.ReadFile(filepath.Join(catalogue.DesignsDir, name, filepath.FromSlash(id)))
		if err != nil {
			return -1 // check says that it is missing
		}
		if p, found := board.Parse(file, data); p != nil && finding.Count(found, finding.Error) == 0 {
			add(id, file, p)
			return len(rows) - 1
		}
		return -1
	}
	for _, name := range s.Names {
		e, err := s.Load(name)
		if err != nil {
			return nil, machine("check that you may read the folder", "%w", err)
		}
		if e.Design == nil {
			continue
		}
		for _, v := range e.Design.Variants {
			for _, b := range v.BoardList() {
				id, file := string(b.Profile.V), ""
				if design.IsFile(id) {
					file = s.Path(name, id)
				}
				i := slices.IndexFunc(rows, func(r boardRow) bool { return r.ID == id && r.File == file })
				if i < 0 && file != "" {
					i = own(name, id)
				}
				if use := name + " " + string(v.Name.V); i >= 0 && !slices.Contains(rows[i].UsedBy, use) {
					rows[i].UsedBy = append(rows[i].UsedBy, use)
				}
			}
		}
		written, err := fs.Glob(e.FS, "boards/*.yaml")
		if err != nil {
			continue // the pattern is right: no error can come
		}
		for _, id := range written { // those that no variant names yet
			if !slices.ContainsFunc(rows, func(r boardRow) bool { return r.File == s.Path(name, id) }) {
				own(name, id)
			}
		}
	}
	return rows, nil
}

func (a *app) boardList() error {
	rows, err := a.boardRows()
	if err != nil {
		return err
	}
	if a.format == "json" {
		return a.asJSON(rows)
	}
	table := [][]string{{"board", "size, mm", "mounts", "ports", "what", "used by"}}
	for _, r := range rows {
		id := r.ID
		if r.File != "" {
			id = r.File
		}
		table = append(table, []string{id, "\t" + lengthOr(r.Length) + " x " + lengthOr(r.Width), "\t" + strconv.Itoa(r.Mounts), "\t" + strconv.Itoa(r.Ports), cut(r.Title, 46), strings.Join(r.UsedBy, ", ")})
	}
	a.ui.table(table)
	fmt.Fprintln(a.stdout, "\n`dropwright boards show BOARD` prints one; `dropwright boards new NAME` writes one from measurements.")
	return nil
}

// lengthOr prints a figure, "?" where it is not known.
func lengthOr(l board.Length) string {
	if !l.Given {
		return "?"
	}
	return unit.Number(l.MM)
}

// profileNamed reads a built-in profile, or one from a file.
func (a *app) profileNamed(name string) (*board.Profile, []byte, error) {
	if text, err := board.BuiltinText(name); err == nil {
		p, err := board.Load(name)
		if err != nil {
			return nil, nil, machine("", "%w", err)
		}
		return p, text, nil
	}
	const most = 1 << 20 // bytes; a profile is a few thousand
	file := a.abs(name)
	info, err := os.Stat(file)
	if err != nil || info.IsDir() {
		switch own := a.ownProfiles(name); len(own) {
		case 0:
		case 1:
			file = own[0]
			info, err = os.Stat(file)
		default:
			var shown []string
			for _, f := range own {
				shown = append(shown, a.shown(f))
			}
			return nil, nil, usage("write "+strings.Join(shown, " or "), "%d designs have a profile called %q", len(own), name)
		}
	}
	if err != nil || info.IsDir() {
		hint := "`dropwright boards` lists them; or name a file"
		if near := finding.Nearest(name, board.Builtin()); near != "" {
			hint = "did you mean " + near + "?"
		}
		return nil, nil, usage(hint, "no board profile is called %q", name)
	}
	data, err := disk.ReadFile(disk.OS(), file, most)
	if err != nil {
		return nil, nil, unreadable("check the name, and that you may read it", "%s: %w", a.shown(file), err)
	}
	p, found := board.Parse(a.shown(file), data)
	if p == nil || finding.Count(found, finding.Error) > 0 {
		errUI := *a.ui
		errUI.out = a.stderr
		errUI.findings(found, texts{}, true)
		return nil, nil, unreadable("mend the places named", "%s cannot be read as a board profile", a.shown(file))
	}
	return p, data, nil
}

// ownProfiles are the files of designs' own profiles that are called so.
func (a *app) ownProfiles(name string) []string {
	dir, err := a.findSeries()
	if err != nil {
		return nil
	}
	all, err := filepath.Glob(filepath.Join(dir, catalogue.DesignsDir, "*", "boards", "*.yaml"))
	if err != nil {
		return nil // the pattern is right but for odd signs in the folder's own name
	}
	return slices.DeleteFunc(all, func(f string) bool { return strings.TrimSuffix(filepath.Base(f), ".yaml") != name })
}

func (a *app) boardShow(name string) error {
	p, text, err := a.profileNamed(name)
	if err != nil {
		return err
	}
	var out strings.Builder
	switch a.format {
	case "svg":
		out.WriteString(drawBoard(p))
	case "yaml":
		out.Write(text)
	case "json":
		enc := json.NewEncoder(&out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		if err := enc.Encode(p); err != nil {
			return machine("", "printing: %w", err)
		}
	default:
		rows, err := a.boardRows()
		if err != nil {
			return err
		}
		inner := *a.ui
		inner.out = &out
		a.boardText(&inner, p, rows)
	}
	if a.output == "" {
		if _, err := fmt.Fprint(a.stdout, out.String()); err != nil {
			return machine("", "printing: %w", err)
		}
		return nil
	}
	return a.writeFile(a.output, []byte(out.String()))
}

// basisMark puts behind a figure how it is known, where that is weak.
func basisMark(p *board.Profile, own, path string) string {
	word := own
	if word == "" {
		word = p.BasisOf(path)
	}
	if board.WeakBasis(word) {
		return " (" + board.BasisWords(word) + ")"
	}
	return ""
}

// boardText prints a profile's dimensions as tables.
func (a *app) boardText(u *ui, p *board.Profile, rows []boardRow) {
	o := p.Outline
	fmt.Fprintf(u.out, "%s: %s\n", p.ID.S, p.Title.S)
	if p.Designation.Standard.S != "" {
		fmt.Fprintf(u.out, "%s\n", strings.TrimSpace(p.Designation.Standard.S+" "+p.Designation.Edition.S+" "+p.Designation.Figure.S))
	}
	for _, r := range rows {
		if (r.ID == p.ID.S && r.File == "" || r.File != "" && r.File == p.File) && len(r.UsedBy) > 0 {
			fmt.Fprintf(u.out, "used by %s\n", strings.Join(r.UsedBy, ", "))
		}
	}
	fmt.Fprintln(u.out, "\nmm; origin at the lower left corner seen from the component side, z up from the board's top")
	outline := fmt.Sprintf("outline %s x %s", lengthOr(o.Length), lengthOr(o.Width))
	if o.Tolerance.Given {
		outline += " +-" + lengthOr(o.Tolerance)
	}
	fmt.Fprintf(u.out, "%s, thickness %s; over it %s, under it %s%s\n", outline, lengthOr(o.Thickness), lengthOr(p.Heights.Top), lengthOr(p.Heights.Bottom), basisMark(p, "", "outline.length"))
	for _, t := range boardTables(p) {
		fmt.Fprintln(u.out)
		u.table(t)
	}
	if len(p.Sources) > 0 {
		fmt.Fprintln(u.out, "\nsources")
	}
	for _, s := range p.Sources {
		fmt.Fprintf(u.out, "  %s  %s", s.ID.S, s.Title.S)
		if s.Where.S != "" {
			fmt.Fprintf(u.out, " (%s)", s.Where.S)
		}
		fmt.Fprintln(u.out)
	}
	for _, n := range p.Notes {
		fmt.Fprintf(u.out, "note: %s\n", wrap(n.S, min(u.width, 110)))
	}
}

func figureOr(n board.Number) string {
	if !n.Given {
		return "?"
	}
	return unit.Number(n.V)
}
