package main

import (
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"dropwright/bundle/estimate"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
)

func (a *app) measureCmd() *cobra.Command {
	o := measureOptions{set: estimate.Defaults()}
	cmd := &cobra.Command{
		Use:   "measure FILE|FOLDER|DESIGN...",
		Short: "measure meshes: size, volume, faults, holes",
		Long: `Measures mesh files (STL, 3MF): size, volume, area, shells, faults with their places, holes with
their diameters, overhang and walls, plastic and time. Takes bare files, folders and patterns, no series needed; inside a
series also the names of designs, whose parts are estimated with their own print settings, filament,
printer, print file and logged trials; the flags change single settings. A file that cannot be read leaves the others measured.`,
		Example:           "  dropwright measure case.stl\n  dropwright measure meshes/*.stl --format json\n  dropwright measure vent-minder --topics faults,holes",
		ValidArgsFunction: a.completeMeshes,
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, name := range settingFlags {
				if f := cmd.Flags().Lookup(name); f.Changed {
					o.changed = append(o.changed, [2]string{name, f.Value.String()})
				}
			}
			return a.measure(args, o)
		},
	}
	a.formatFlag(cmd, "text", "json")
	f := cmd.Flags()
	f.StringSliceVar(&o.topics, "topics", topicNames, "what to measure: "+strings.Join(topicNames, ", ")+"; faults always include size, volume and area")
	f.StringVar(&o.why, "why", "", "explain one kind of fault, such as open-edge")
	f.StringArrayVar(&o.tries, "try", nil, "print what another setting would give, such as --try layer=0.12,0.28; may be repeated")
	f.StringVar(&o.bed, "bed", "", "say whether it fits a bed of x,y,z millimetres, such as 220,220,250")
	f.Float64Var(&o.set.Layer, "layer", o.set.Layer, "layer height in mm, for the estimate")
	f.Float64Var(&o.set.Line, "line", o.set.Line, "line width in mm")
	f.IntVar(&o.set.Walls, "walls", o.set.Walls, "lines around each outline")
	f.IntVar(&o.set.SolidTop, "solid-top", o.set.SolidTop, "solid layers at the top")
	f.IntVar(&o.set.SolidBottom, "solid-bottom", o.set.SolidBottom, "solid layers at the bottom")
	f.Float64Var(&o.infill, "infill", o.set.Infill*100, "infill in percent")
	f.StringVar(&o.set.Material, "material", "PLA", "material, for the density")
	f.Float64Var(&o.price, "price-per-kg", 0, "price of a kilogram of filament, for the cost that --try prints (default: the series')")
	_ = cmd.RegisterFlagCompletionFunc("topics", cobra.FixedCompletions(topicNames, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.RegisterFlagCompletionFunc("material", cobra.FixedCompletions(hardware.Materials(), cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

var topicNames = []string{"faults", "holes", "walls", "estimate"}

type measureOptions struct {
	topics, tries []string
	why, bed      string
	infill, price float64
	set           estimate.Settings
	changed       [][2]string // settings given as flags, by flag and value
}

// settingFlags are the flags that name a print setting; estimate.Settings.Set knows them.
var settingFlags = []string{"layer", "line", "walls", "solid-top", "solid-bottom", "infill", "material"}

// options turns the flags into what to measure.
func (o measureOptions) options() (measure.Options, error) {
	opt := measure.Options{Print: measure.Printing{Settings: o.set, Machine: estimate.DefaultMachine()}}
	for _, t := range o.topics {
		switch t {
		case "faults":
		case "holes":
			opt.Topics.Holes = true
		case "walls":
			opt.Topics.Walls = true
		case "estimate":
			opt.Topics.Estimate = true
		default:
			hint := "write --topics " + strings.Join(topicNames, ",")
			if near := finding.Nearest(t, topicNames); near != "" {
				hint = "did you mean " + near + "?"
			}
			return opt, usage(hint, "--topics: expected one of %s, found %q", strings.Join(topicNames, ", "), t)
		}
	}
	opt.Print.Settings.Infill = o.infill / 100
	if err := opt.Print.Settings.Check(); err != nil {
		return opt, usage("check the flags --layer, --line, --walls, --infill, --material", "%w", err)
	}
	if o.price < 0 || math.IsNaN(o.price) || o.price > 1e6 {
		return opt, usage("write --price-per-kg 24", "--price-per-kg: expected a price, found %v", o.price)
	}
	if o.bed != "" {
		parts := strings.FieldsFunc(o.bed, func(r rune) bool { return strings.ContainsRune(",x×* ", r) })
		for i := range opt.Bed {
			var err error
			if len(parts) == 3 {
				opt.Bed[i], err = unit.ParseNumber(strings.TrimSpace(parts[i]))
			}
			if len(parts) != 3 || err != nil || opt.Bed[i] <= 0 {
				return opt, usage("write --bed 220,220,250", "--bed: expected three lengths in mm, found %q", o.bed)
			}
		}
	}
	return opt, nil
}

// meshFile is one file to measure: the name to show, and where it is.
type meshFile struct {
	shown string
	fsys  fs.FS
	name  string
	how   *measure.Printing // as a part of a design; nil: as the flags say
	price float64           // of a kilogram of its filament, 0: not known
}

// options are those of the command with what is the file's own.
func (f meshFile) options(opt measure.Options) measure.Options {
	if f.how != nil {
		opt.Print = *f.how
	}
	return opt
}

func (a *app) measure(words []string, o measureOptions) error {
	if o.why != "" {
		return a.whyFault(o.why)
	}
	opt, err := o.options()
	if err != nil {
		return err
	}
	if len(words) == 0 {
		return usage("name files, folders or a design: `dropwright measure case.stl`", "what should be measured?")
	}
	look := meshSearch{app: a, options: o}
	defer look.close()
	files, err := look.files(words)
	if err != nil {
		return err
	}
	opt.Cache, opt.Factors = a.cache(), look.factors()
	if len(o.tries) > 0 {
		return a.try(files, opt, o)
	}
	out := a.measureAll(files, opt)
	if err := a.ctx.Err(); err != nil {
		return err
	}
	bad := 0
	for _, f := range out {
		if f.Error != "" {
			bad++
		}
	}
	if a.format == "json" {
		if err := a.asJSON(out); err != nil {
			return err
		}
	} else {
		for i, f := range out {
			if i > 0 {
				fmt.Fprintln(a.stdout)
			}
			a.printMesh(f, opt)
		}
	}
	if bad > 0 {
		if a.format != "json" {
			return unreadable("what was wrong with each stands with its name", "%s of %d could not be read", plural(bad, "file"), len(out))
		}
		return errFindings
	}
	return nil
}

// measureAll measures files in parallel; large files share the memory of a few at a time.
func (a *app) measureAll(files []meshFile, opt measure.Options) []facts.Mesh {
	out := make([]facts.Mesh, len(files))
	b := a.ui.busy(len(files))
	defer b.stop()
	var wg sync.WaitGroup
	sem := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, f := range files {
		if a.ctx.Err() != nil {
			break
		}
		sem <- struct{}{}
		wg.Go(func() {
			defer func() { <-sem }()
			own := f.options(opt)
			own.Stage = func(_, stage string) { b.at(f.shown, stage) }
			m := measure.Mesh(f.fsys, f.name, own)
			m.File = f.shown
			out[i] = m
			b.end(f.shown)
		})
	}
	wg.Wait()
	return out
}

func (a *app) walkMeshes(dir string, add func(string)) error {
	seen := 0
	return filepath.WalkDir(a.abs(dir), func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if seen++; seen > measure.MaxFiles {
			return fmt.Errorf("more than %d files", measure.MaxFiles)
		}
		if strings.HasPrefix(e.Name(), ".") && e.IsDir() && p != a.abs(dir) {
			return fs.SkipDir
		}
		switch strings.ToLower(filepath.Ext(p)) {
		case ".stl", ".3mf":
			if e.Type().IsRegular() {
				add(a.shown(p))
			}
		}
		return nil
	})
}

func (a *app) completeMeshes(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
	names, _ := a.completeDesigns(cmd, args, word)
	return names, cobra.ShellCompDirectiveDefault
}

// printMesh prints one mesh for people.
func (a *app) printMesh(f facts.Mesh, opt measure.Options) {
	w := a.stdout
	fmt.Fprintln(w, a.ui.bold(f.File))
	if f.Error != "" {
		fmt.Fprintf(w, "  cannot be read: %s\n", f.Error)
		if f.Hint != "" {
			fmt.Fprintf(w, "  hint: %s\n", f.Hint)
		}
		return
	}
	row := func(name, format string, v ...any) { fmt.Fprintf(w, "  %-12s %s\n", name, fmt.Sprintf(format, v...)) }
	s := f.Size
	row("size", "%.2f × %.2f × %.2f mm", s[0], s[1], s[2])
	if f.Volume != nil {
		row("volume", "%s", volumeText(*f.Volume))
	} else {
		row("volume", "not known: the surface is not closed")
	}
	row("area", "%.1f cm²", *f.Area/100)
	bodies := plural(*f.Shells-*f.Voids, "shell")
	if *f.Voids > 0 {
		bodies += ", " + cavities(*f.Voids)
	}
	row("triangles", "%d in %s (%s)", f.Triangles, bodies, f.Format)
	if f.UnitSuspect != nil {
		row("unit", "looks like %s: as millimetres it would be this small or large", unitsText(*f.UnitSuspect))
	}
	if f.WeldedWithin != nil {
		row("welded", "corners within %s mm were taken as one", unit.Number(*f.WeldedWithin))
	}
	if len(f.Faults) == 0 {
		row("faults", "none")
	}
	for i, x := range f.Faults {
		name := "faults"
		if i > 0 {
			name = ""
		}
		at := ""
		if len(x.At) > 0 {
			at = fmt.Sprintf(", the first at x %.2f, y %.2f, z %.2f mm", x.At[0][0], x.At[0][1], x.At[0][2])
		}
		row(name, "%s%s", plural(x.Count, strings.ReplaceAll(x.Kind, "-", " ")), at)
	}
	a.printHoles(f, row)
	if f.BedContact != nil {
		row("on the bed", "%.1f cm² lie on it, %.1f cm² overhang by more than 45°", *f.BedContact/100, *f.Overhang/100)
		if n := len(f.Islands); n > 1 {
			least := f.Islands[n-1]
			row("", "its first layer has %d islands, the smallest of %.1f mm² at x %.1f, y %.1f mm", n, least.Area, (least.Min[0]+least.Max[0])/2, (least.Min[1]+least.Max[1])/2)
		}
		if f.StandOn != "-z" {
			row("", "standing on %s would need less support", f.StandOn)
		}
	}
	if f.ThinnestWall != nil {
		row("thinnest", "%.2f mm of wall", *f.ThinnestWall)
	}
	if f.FitsBed != nil {
		row("bed", "%s %s × %s × %s mm", map[bool]string{true: "fits", false: "does not fit"}[*f.FitsBed], unit.Number(opt.Bed[0]), unit.Number(opt.Bed[1]), unit.Number(opt.Bed[2]))
	}
	a.printEstimate(f, row)
}

// whyFault explains one kind of fault of a mesh.
func (a *app) whyFault(kind string) error {
	text, ok := faultWhy[kind]
	if !ok {
		var names []string
		for n := range faultWhy {
			names = append(names, n)
		}
		slices.Sort(names)
		hint := "known: " + strings.Join(names, ", ")
		if near := finding.Nearest(kind, names); near != "" {
			hint = "did you mean " + near + "?"
		}
		return usage(hint, "no fault is called %q", kind)
	}
	fmt.Fprintf(a.stdout, "%s\n\n%s\n", kind, wrap(text, min(a.ui.width, 100)))
	return nil
}

func cavities(n int) string {
	if n == 1 {
		return "1 sealed cavity"
	}
	return fmt.Sprintf("%d sealed cavities", n)
}

// unitsText is the plural of a unit.
func unitsText(name string) string {
	if name == "inch" {
		return "inches"
	}
	return name + "s"
}

func volumeText(v float64) string { return fmt.Sprintf("%.2f cm³", v/1000) }
