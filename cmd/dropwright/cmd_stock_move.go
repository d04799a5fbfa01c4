package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/bom"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
	"dropwright/series/disk"
	"dropwright/series/stock"
)

// goods are the names under which things can be put on the shelf and taken off it.
type goods struct {
	filaments []string
	fasteners []string            // designations that the designs use
	bought    map[string]string   // name or text of a bought part -> its text
	designs   map[string][]string // design -> variants
}

// goodsOf looks through the manifests of the series. One that cannot be read adds nothing.
func (a *app) goodsOf(s *season) goods {
	g := goods{filaments: s.Config.FilamentNames(), bought: map[string]string{}, designs: map[string][]string{}}
	for _, name := range s.Names {
		e, err := s.Load(name)
		if err != nil || e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
			continue
		}
		g.designs[name] = e.Design.VariantNames()
		for _, v := range bom.Compute(e.Design, &facts.Design{}, &s.Config.House, e.Design.VariantNames(), 1, boardTitle).Variants {
			for _, x := range v.Fasteners {
				if !slices.Contains(g.fasteners, x.Designation) {
					g.fasteners = append(g.fasteners, x.Designation)
				}
			}
			for _, x := range v.Bought {
				g.bought[strings.ToLower(x.Name)], g.bought[strings.ToLower(x.What)] = x.What, x.What
			}
		}
	}
	slices.Sort(g.fasteners)
	return g
}

// named is what a word of the command line means.
type named struct {
	kind stock.Kind
	item string // filament, designation, text, design
	one  string // the label of one spool; "" for any of the filament
}

// find says what a word means: a spool, a filament, a fastener by any spelling, a bought part by its name or text,
// a design.
func (g goods) find(word string, shelf *stock.Shelf) (named, error) {
	for _, l := range shelf.Lines {
		if l.Kind == stock.Spool && l.Label == word && l.Item != word {
			return named{stock.Spool, l.Item, word}, nil
		}
	}
	if slices.Contains(g.filaments, word) {
		return named{stock.Spool, word, ""}, nil
	}
	if _, ok := g.designs[word]; ok {
		return named{stock.Build, word, ""}, nil
	}
	for _, l := range shelf.Lines {
		if l.Kind != stock.Spool && l.Kind != stock.Build && (strings.EqualFold(l.Item, word) || l.Item == stock.Canonical(word)) {
			return named{l.Kind, l.Item, ""}, nil
		}
	}
	if what, ok := g.bought[strings.ToLower(word)]; ok {
		return named{stock.Bought, what, ""}, nil
	}
	if d, err := hardware.ParseDesignation(word); err == nil {
		return named{stock.Fastener, d.String(), ""}, nil
	}
	if size, length, err := hardware.ParseScrew(word); err == nil { // M3x8 without a head: those that are in use
		var fit []string
		for _, f := range g.withShelf(shelf) {
			if d, err := hardware.ParseDesignation(f); err == nil && d.Kind == hardware.KindScrew && d.Size == size && d.Length == length {
				fit = append(fit, f)
			}
		}
		switch len(fit) {
		case 1:
			return named{stock.Fastener, fit[0], ""}, nil
		case 0:
			return named{}, usage("write the standard too, such as \"ISO 4762 - "+strings.Replace(word, "x", " x ", 1)+"\"; `dropwright hardware "+word+"` lists them", "no design uses a screw %s, so its head is not known", word)
		}
		return named{}, usage("write one of \""+strings.Join(fit, "\", \"")+"\"", "there is more than one screw %s", word)
	}
	names := slices.Concat(g.filaments, g.fasteners)
	for k := range g.bought {
		names = append(names, k)
	}
	for _, l := range shelf.Lines {
		names = append(names, l.Item, l.Label)
	}
	for k := range g.designs {
		names = append(names, k)
	}
	slices.Sort(names)
	hint := "name a filament of the series (" + strings.Join(g.filaments, ", ") + "), a fastener such as \"ISO 4762 - M3 x 8\", a bought part of a design, or a design"
	if near := finding.Nearest(word, names); near != "" {
		hint = "did you mean " + near + "?"
	}
	return named{}, usage(hint, "nothing in this series is called %q", word)
}

func (g goods) withShelf(shelf *stock.Shelf) []string {
	out := slices.Clone(g.fasteners)
	for _, l := range shelf.Lines {
		if l.Kind == stock.Fastener && !slices.Contains(out, l.Item) {
			out = append(out, l.Item)
		}
	}
	return out
}

// addOptions are the flags of stock add.
type addOptions struct {
	label, tare, note string
	pack, price       float64
	bought            bool
}

func (a *app) stockAddCmd() *cobra.Command {
	var o addOptions
	cmd := &cobra.Command{
		Use:   "add FILAMENT [MASS]|ITEM COUNT",
		Short: "put a spool, fasteners or bought parts on the shelf",
		Long: `Puts one more spool of a filament on the shelf, full unless its mass without the spool is named; or so many
pieces of a fastener or bought part. A screw may be named as M3x8 where the designs use just one of that size.
What --pack, --price and --tare say is remembered with the line.`,
		Example:           "  dropwright stock add clay --price 22.50\n  dropwright stock add straw 430g --label straw-old --tare 190g\n  dropwright stock add \"ISO 4762 - M3 x 8\" 50 --pack 50 --price 3.90",
		Args:              cobra.RangeArgs(1, 2),
		ValidArgsFunction: a.completeSpools,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.stockAdd(args, o) },
	}
	cmd.Flags().StringVar(&o.label, "label", "", "what is written on the spool; a name and a number when left out")
	cmd.Flags().StringVar(&o.tare, "tare", "", "mass of the empty spool, such as 190g")
	cmd.Flags().StringVar(&o.note, "note", "", "a note")
	cmd.Flags().Float64Var(&o.pack, "pack", 0, "grams on a full spool, pieces in a pack")
	cmd.Flags().Float64Var(&o.price, "price", 0, "price of a full spool or a pack")
	cmd.Flags().BoolVar(&o.bought, "new", false, "it is a bought part that no design lists")
	return cmd
}

func (a *app) stockAdd(args []string, o addOptions) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	tare := 0.0
	if o.tare != "" {
		if tare, err = massOf(o.tare); err != nil {
			return err
		}
	}
	g := a.goodsOf(s)
	return a.changeStock(s, true, func(shelf *stock.Shelf) error {
		n, err := g.find(args[0], shelf)
		if err != nil && o.bought {
			n, err = named{stock.Bought, args[0], ""}, nil
		}
		if err != nil {
			return err
		}
		switch n.kind {
		case stock.Spool:
			return a.addSpool(s, shelf, n, args, o, tare)
		case stock.Build:
			return usage("dropwright stock use "+n.item+" books a build: what it takes goes, and it is on the shelf", "%s is a design", n.item)
		}
		if len(args) < 2 {
			return usage("write for example: dropwright stock add \""+n.item+"\" 50", "how many of %s?", n.item)
		}
		count, err := countOf(args[1])
		if err != nil {
			return err
		}
		was, is, err := shelf.Count(n.kind, n.item, "", count, o.pack, o.price)
		if err != nil {
			return err
		}
		a.noteOn(shelf, is, o.note)
		fmt.Fprintf(a.stdout, "%s: %s, before %s\n", is.Item, unit.Number(is.Amount), unit.Number(was.Amount))
		return nil
	})
}

func (a *app) addSpool(s *season, shelf *stock.Shelf, n named, args []string, o addOptions, tare float64) error {
	f, _ := s.Config.Filament(n.item)
	l := stock.Line{Item: n.item, Label: o.label, Pack: float64(f.Spool.Or(1000)), Tare: float64(f.Tare.V), Price: o.price, Note: o.note}
	if o.pack > 0 {
		l.Pack = o.pack
	}
	if tare > 0 {
		l.Tare = tare
	}
	l.Amount = l.Pack
	if len(args) == 2 {
		m, err := massOf(args[1])
		if err != nil {
			return err
		}
		l.Amount = m
	}
	l, err := shelf.AddSpool(l)
	if err != nil {
		return err
	}
	all, _ := shelf.Grams(l.Item)
	fmt.Fprintf(a.stdout, "%s: a spool of %s with %s; %s of %s in all\n", l.Label, l.Item, unit.Mass(l.Amount), unit.Mass(all), l.Item)
	return nil
}

// noteOn keeps a note with a line.
func (a *app) noteOn(shelf *stock.Shelf, l stock.Line, note string) {
	for i := range shelf.Lines {
		if x := &shelf.Lines[i]; note != "" && x.Kind == l.Kind && x.Item == l.Item && x.Label == l.Label {
			x.Note = note
		}
	}
}

// countOf reads a number of pieces.
func countOf(text string) (float64, error) {
	n, err := unit.ParseNumber(strings.TrimPrefix(strings.TrimSuffix(text, "x"), "x"))
	if err != nil || n <= 0 || n > stock.MostPieces {
		return 0, usage("write a number of pieces, such as 50", "expected a count above 0, found %q", text)
	}
	return n, nil
}

func (a *app) stockUseCmd() *cobra.Command {
	var builds int
	var printed bool
	cmd := &cobra.Command{
		Use:   "use FILAMENT|LABEL MASS|ITEM COUNT|DESIGN",
		Short: "take grams, pieces or a whole build off the shelf",
		Long: `Takes grams off a filament (the open spool nearest its end that holds them) or off one spool by its label;
pieces of a fastener or bought part; or all that a build of a design takes, and puts the build on the shelf.
--printed says that its parts were logged as trials: then only fasteners and bought parts are taken.`,
		Example:           "  dropwright stock use clay 41g\n  dropwright stock use M2.5x8 4\n  dropwright stock use vent-minder --variant ce",
		Args:              cobra.RangeArgs(1, 2),
		ValidArgsFunction: a.completeSpools,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.stockUse(args, builds, printed)
		},
	}
	a.variantFlag(cmd)
	cmd.Flags().IntVar(&builds, "builds", 1, "how many builds of a design")
	cmd.Flags().BoolVar(&printed, "printed", false, "the parts of the build were logged as trials")
	return cmd
}

func (a *app) stockUse(args []string, builds int, printed bool) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	g := a.goodsOf(s)
	return a.changeStock(s, false, func(shelf *stock.Shelf) error {
		n, err := g.find(args[0], shelf)
		if err != nil {
			return err
		}
		if n.kind == stock.Build {
			if len(args) == 2 {
				return usage("write dropwright stock use "+n.item+" --builds "+args[1], "how many builds is said by --builds")
			}
			return a.useBuild(s, shelf, n.item, builds, printed)
		}
		if len(args) < 2 {
			return usage("write for example: dropwright stock use clay 41g, or: dropwright stock use \"ISO 4762 - M3 x 8\" 4", "how much of %s?", n.item)
		}
		if n.kind != stock.Spool {
			count, err := countOf(args[1])
			if err != nil {
				return err
			}
			was, is, err := shelf.Count(n.kind, n.item, "", -count, 0, 0)
			if err == nil {
				fmt.Fprintf(a.stdout, "%s: %s left, before %s\n", is.Item, unit.Number(is.Amount), unit.Number(was.Amount))
			}
			return err
		}
		grams, err := massOf(args[1])
		if err != nil {
			return err
		}
		if n.one != "" {
			was, is, err := shelf.TakeFrom(n.one, grams)
			if err == nil {
				a.tookOff([][2]stock.Line{{was, is}})
			}
			return err
		}
		done, missing := shelf.Take(n.item, grams)
		if missing > 0 {
			return usage("dropwright stock weigh corrects a spool, dropwright stock add puts one on the shelf", "%s of %s are to be taken, and %s are on the shelf", unit.Mass(grams), n.item, unit.Mass(grams-missing))
		}
		a.tookOff(done)
		return nil
	})
}

// tookOff says what was taken off which spool.
func (a *app) tookOff(done [][2]stock.Line) {
	for _, d := range done {
		fmt.Fprintf(a.stdout, "%s: %s left, before %s\n", d[1].Label, unit.Mass(d[1].Amount), unit.Mass(d[0].Amount))
	}
}

// useBuild books builds of one variant: all of it is there, or nothing is taken.
func (a *app) useBuild(s *season, shelf *stock.Shelf, name string, builds int, printed bool) error {
	if builds < 1 || builds > 1000 {
		return usage("write a number from 1 to 1000", "--builds: expected 1 or more, found %d", builds)
	}
	_, w, err := a.sane(s, name, measure.Topics{Estimate: true})
	if err != nil {
		return err
	}
	variants, err := a.variants(w.Design)
	if err != nil {
		return err
	}
	if len(variants) > 1 {
		return usage("add --variant "+strings.Join(variants, " or --variant "), "which variant of %s?", name)
	}
	v := w.BOM(variants, builds, boardTitle).Variants[0]
	var lacks []string
	if !printed {
		for _, p := range v.Parts {
			if p.Optional || p.Grams == nil {
				continue
			}
			i := slices.IndexFunc(v.Filament, func(f bom.Filament) bool { return f.Role == p.Role })
			if i < 0 {
				continue
			}
			want := *p.Grams * float64(p.Copies+p.Mirrored)
			done, missing := shelf.Take(v.Filament[i].Filament, want)
			if missing > 0 {
				lacks = append(lacks, fmt.Sprintf("%s of %s for %s", unit.Mass(missing), v.Filament[i].Filament, p.Name))
				continue
			}
			a.tookOff(done)
		}
	}
	take := func(kind stock.Kind, item string, count float64) {
		if have := shelf.Pieces(kind, item); have < count {
			lacks = append(lacks, fmt.Sprintf("%s of %s", unit.Number(count-have), item))
			return
		}
		if _, is, err := shelf.Count(kind, item, "", -count, 0, 0); err == nil {
			fmt.Fprintf(a.stdout, "%s: %s left\n", is.Item, unit.Number(is.Amount))
		}
	}
	for _, x := range v.Fasteners {
		if !x.Optional {
			take(stock.Fastener, x.Designation, float64(x.Count))
		}
	}
	for _, x := range v.Bought {
		if !x.Optional {
			take(stock.Bought, x.What, x.Count)
		}
	}
	if len(lacks) > 0 {
		return usage("dropwright stock add puts it on the shelf; nothing was taken", "a build of %s lacks %s", name, strings.Join(lacks, ", "))
	}
	_, is, err := shelf.Count(stock.Build, name, v.Variant, float64(builds), 0, 0)
	if err == nil {
		fmt.Fprintf(a.stdout, "%s %s: %s on the shelf\n", name, v.Variant, plural(int(is.Amount), "build"))
	}
	return err
}

func (a *app) stockImportCmd() *cobra.Command {
	var replace bool
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "take a shelf over from a CSV file",
		Long: `Reads a CSV file as a spreadsheet saves it (commas, semicolons or tabs; the first line names the columns:
kind, item, label, amount, pack, tare, price, note) and puts its lines on the shelf. A line for something that is
there already gets the file's figures, and keeps what the file leaves out. --replace begins with an empty shelf.`,
		Example: "  dropwright stock import shelf.csv",
		Args:    cobra.ExactArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return a.stockImport(args[0], replace) },
	}
	cmd.Flags().BoolVar(&replace, "replace", false, "begin with an empty shelf")
	return cmd
}

func (a *app) stockImport(name string, replace bool) error {
	data, err := disk.ReadFile(disk.OS(), a.abs(name), stock.MaxBytes)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) || errors.Is(err, os.ErrPermission) {
			return unreadable("name a CSV file that you may read", "%s cannot be read: %w", name, plainly(err))
		}
		return machine("name a CSV file of at most 4 MB", "reading %s: %w", name, plainly(err))
	}
	read, err := stock.Read(data)
	if err != nil {
		var l *stock.LineError
		if errors.As(err, &l) {
			return unreadable(l.Hint, "%s:%d: %s", filepath.ToSlash(name), l.Line, l.Text)
		}
		return machine("", "reading %s: %w", name, err)
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	known := s.Config.FilamentNames()
	for _, l := range read.Lines {
		if l.Kind == stock.Spool && !slices.Contains(known, l.Item) {
			a.ui.say("note: no filament of the series is called %s; nothing that is printed takes it", l.Item)
		}
	}
	return a.changeStock(s, true, func(shelf *stock.Shelf) error {
		added, changed := 0, 0
		if replace {
			shelf.Lines = nil
		}
		for _, l := range read.Lines {
			i := slices.IndexFunc(shelf.Lines, func(x stock.Line) bool {
				return x.Kind == l.Kind && x.Label == l.Label && (l.Kind == stock.Spool || strings.EqualFold(x.Item, l.Item))
			})
			if i < 0 {
				shelf.Lines = append(shelf.Lines, l)
				added++
				continue
			}
			was := shelf.Lines[i] // what the file leaves out stays
			l.Pack, l.Tare, l.Price, l.Note = cmp.Or(l.Pack, was.Pack), cmp.Or(l.Tare, was.Tare), cmp.Or(l.Price, was.Price), cmp.Or(l.Note, was.Note)
			if was != l {
				changed++
			}
			shelf.Lines[i] = l
		}
		fmt.Fprintf(a.stdout, "%s added, %d changed, %d on the shelf\n", plural(added, "line"), changed, len(shelf.Lines))
		return nil
	})
}

func (a *app) stockExportCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "export",
		Short:   "print the shelf as CSV",
		Long:    "Prints the shelf as CSV for a spreadsheet. A text that a spreadsheet would run as a formula gets an apostrophe\nin front, which import takes away again.",
		Example: "  dropwright stock export --output shelf.csv",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.sound()
			if err != nil {
				return err
			}
			defer s.close()
			shelf, err := a.shelf(s)
			if err != nil {
				return err
			}
			if shelf == nil {
				shelf = &shelfFile{}
			}
			data, err := shelf.Bytes()
			if err != nil {
				return stockError(err)
			}
			if a.output != "" {
				return a.writeFile(a.output, data)
			}
			_, err = a.stdout.Write(data)
			return err
		},
	}
	a.outputFlag(cmd, "write to this file instead of printing")
	return cmd
}
