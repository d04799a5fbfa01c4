package main

import (
	"bytes"
	"errors"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle/unit"
	"dropwright/series/calendar"
	"dropwright/series/ledger"
	"dropwright/series/outlook"
	"dropwright/series/stock"
)

func (a *app) stockCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "stock",
		Short: "keep spools and fasteners; say what fits, and what to order by when",
		Long: `Lists what is on the shelf: filament by the spool, fasteners and bought parts in the box, finished
builds. It is kept in stock.csv beside series.yaml, which a spreadsheet opens too. A logged trial takes its
grams off a spool by itself.`,
		Example: "  dropwright stock add clay                 # a full spool\n  dropwright stock weigh clay 622g          # what the scale says, spool and all\n  dropwright stock use \"ISO 4762 - M3 x 8\" 4\n  dropwright stock fits clay\n  dropwright stock order",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.stockList() },
	}
	a.formatFlag(cmd, "text", "json")
	cmd.AddCommand(a.stockListCmd(), a.stockAddCmd(), a.stockUseCmd(), a.stockWeighCmd(), a.stockRemoveCmd(), a.stockFitsCmd(), a.stockOrderCmd(), a.stockImportCmd(), a.stockExportCmd())
	return cmd
}

func (a *app) stockListCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "list what is on the shelf",
		Example: "  dropwright stock list --format json",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.stockList() },
	}
	a.formatFlag(cmd, "text", "json")
	return cmd
}

// jsonStock is one line of the shelf.
type jsonStock struct {
	Kind   stock.Kind `json:"kind"`
	Item   string     `json:"item"`
	Label  string     `json:"label,omitempty"`
	Amount float64    `json:"amount"`
	Unit   string     `json:"unit"`
	Pack   float64    `json:"pack,omitempty"`
	Tare   float64    `json:"tare_grams,omitempty"`
	Price  float64    `json:"price,omitempty"`
	Note   string     `json:"note,omitempty"`
}

func (a *app) stockList() error {
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
	if a.format == "json" {
		out := []jsonStock{}
		for _, l := range shelf.Lines {
			out = append(out, jsonStock{l.Kind, l.Item, l.Label, l.Amount, l.Unit(), l.Pack, l.Tare, l.Price, l.Note})
		}
		return a.asJSON(out)
	}
	if len(shelf.Lines) == 0 {
		fmt.Fprintln(a.stdout, "nothing is on the shelf yet: `dropwright stock add FILAMENT` puts a full spool there")
		return nil
	}
	rows := [][]string{{"kind", "item", "label", "\tleft", "", "\tof", "\tempty spool", "note"}}
	for _, k := range stock.Kinds {
		for _, l := range shelf.Lines {
			if l.Kind != k {
				continue
			}
			of, tare := "", ""
			if l.Pack > 0 {
				of = unit.Number(l.Pack)
			}
			if l.Tare > 0 {
				tare = unit.Mass(l.Tare).String()
			}
			rows = append(rows, []string{string(l.Kind), l.Item, l.Label, "\t" + unit.Number(l.Amount), l.Unit(), "\t" + of, "\t" + tare, l.Note})
		}
	}
	a.ui.table(withoutEmpty(rows))
	return nil
}

// changeStock lets one change of the shelf happen: it reads, changes and writes stock.csv under a lock, so that
// two runs at once do not lose each other's change. make says whether a series without a shelf gets one.
func (a *app) changeStock(s *season, make bool, change func(*stock.Shelf) error) error {
	name := filepath.Join(s.dir, stock.File)
	unlock, err := a.lockFile(name)
	if err != nil {
		return err
	}
	defer unlock()
	shelf, err := a.shelf(s)
	if err != nil {
		return err
	}
	if shelf == nil {
		if !make {
			return usage("`dropwright stock add FILAMENT` puts the first spool on the shelf", "no stock is kept: there is no %s", path.Join(s.Shown, stock.File))
		}
		shelf = &shelfFile{name: name}
	}
	before, err := shelf.Bytes()
	if err != nil {
		return err
	}
	if err := change(&shelf.Shelf); err != nil {
		return stockError(err)
	}
	after, err := shelf.Bytes()
	if err != nil {
		return stockError(err)
	}
	if bytes.Equal(before, after) && len(shelf.Lines) > 0 {
		return nil
	}
	return a.replaceFile(name, after)
}

// lockFile takes the lock on a file that the tool keeps; it waits a moment for another run to end.
func (a *app) lockFile(name string) (func() error, error) {
	for try := 0; ; try++ {
		unlock, err := ledger.Flock(name)
		switch {
		case err == nil:
			return unlock, nil
		case !errors.Is(err, ledger.ErrBusy):
			return nil, machine("check that you may write to the series' folder", "%w", plainly(err))
		case try == 100:
			return nil, refused("wait for the other run to end; the lock is freed by the system, no file need be removed", "%w", err)
		}
		select {
		case <-a.ctx.Done():
			return nil, a.ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// stockError gives a refusal of the shelf its hint and status.
func stockError(err error) error {
	var p *stock.Problem
	if errors.As(err, &p) {
		return usage(p.Hint, "%s", p.Text)
	}
	return err
}

func (a *app) stockWeighCmd() *cobra.Command {
	var tare string
	var net, sure bool
	cmd := &cobra.Command{
		Use:   "weigh FILAMENT|LABEL MASS",
		Short: "set a spool to what the scale says",
		Long: `Takes the empty spool's mass off what the scale says. That mass is the line's own, else the filament's tare in
series.yaml; --tare sets it. Name the label where there is more than one spool of the filament.`,
		Example:           "  dropwright stock weigh clay 622g\n  dropwright stock weigh clay-2 622g --tare 190g\n  dropwright stock weigh clay 432g --net",
		Args:              cobra.ExactArgs(2),
		ValidArgsFunction: a.completeSpools,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.stockWeigh(args[0], args[1], tare, net, sure) },
	}
	cmd.Flags().StringVar(&tare, "tare", "", "mass of the empty spool, such as 190g; it is remembered")
	cmd.Flags().BoolVar(&net, "net", false, "the mass is of the filament alone")
	cmd.Flags().BoolVar(&sure, "sure", false, "take it though it is more than a full spool holds")
	return cmd
}

func (a *app) stockWeigh(name, mass, tareText string, net, sure bool) error {
	gross, err := massOf(mass)
	if err != nil {
		return err
	}
	tare := 0.0
	switch {
	case net && tareText != "":
		return usage("write one of the two", "--net says that no spool was on the scale, --tare that one was")
	case net:
		tare = -1
	case tareText != "":
		if tare, err = massOf(tareText); err != nil {
			return err
		}
		if tare == 0 {
			tare = -1
		}
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	return a.changeStock(s, false, func(shelf *stock.Shelf) error {
		if tare == 0 { // what series.yaml says counts where the line says nothing
			for _, l := range shelf.Lines {
				if f, ok := s.Config.Filament(l.Item); ok && l.Kind == stock.Spool && l.Tare == 0 && (l.Label == name || l.Item == name) {
					tare = float64(f.Tare.V)
				}
			}
		}
		was, is, err := shelf.Weigh(name, gross, tare, sure)
		if err != nil {
			return err
		}
		with := ""
		if is.Tare > 0 && tare >= 0 {
			with = fmt.Sprintf(", %s with its spool of %s", unit.Mass(gross), unit.Mass(is.Tare))
		}
		fmt.Fprintf(a.stdout, "%s: %s of filament%s (%s)\n", is.Label, unit.Mass(is.Amount), with, offBy(is.Amount-was.Amount))
		return nil
	})
}

// offBy says by how much a spool was off.
func offBy(d float64) string {
	switch {
	case d > 0.005:
		return unit.Mass(d).String() + " more than was thought"
	case d < -0.005:
		return unit.Mass(-d).String() + " less than was thought"
	}
	return "as was thought"
}

// massOf reads a mass of the command line: 622g, 0.6kg, 622.
func massOf(text string) (float64, error) {
	var m unit.Mass
	if err := m.SetText(strings.TrimSpace(text), false); err != nil || m < 0 {
		return 0, usage("write it like 622g or 0.6kg", "expected a mass such as 622g, found %q", text)
	}
	return float64(m), nil
}

func (a *app) stockRemoveCmd() *cobra.Command {
	return &cobra.Command{
		Use:               "remove LABEL|ITEM",
		Short:             "take a spool or a thing off the shelf for good",
		Example:           "  dropwright stock remove clay-2",
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: a.completeSpools,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.sound()
			if err != nil {
				return err
			}
			defer s.close()
			return a.changeStock(s, false, func(shelf *stock.Shelf) error {
				l, err := shelf.Remove(args[0])
				if err == nil {
					fmt.Fprintf(a.stdout, "removed: %s, %s %s\n", strings.TrimSpace(l.Item+" "+l.Label), unit.Number(l.Amount), l.Unit())
				}
				return err
			})
		},
	}
}

func (a *app) stockOrderCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "order",
		Short: "say what to order for the coming weeks, by when",
		Long: `Compares what the coming weeks need with what is on the shelf: test prints and builds as plan in series.yaml
says, less those that were logged and booked. A thing is to be ordered so that it is there when work on the
first week that runs short must begin: plan.delivery before that. Weeks without a design or mesh are not
counted, and are named.`,
		Example: "  dropwright stock order\n  dropwright stock order --format csv --output order.csv",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.stockOrder() },
	}
	a.formatFlag(cmd, "text", "json", "csv")
	a.outputFlag(cmd, "write to this file instead of printing")
	return cmd
}

func (a *app) stockOrder() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	v, err := a.outlook(s)
	if err != nil {
		return err
	}
	switch a.format {
	case "json":
		return a.asJSON(v.Stock)
	case "csv":
		var out bytes.Buffer
		if err := stock.WriteOrder(&out, orderRows(v.Season, v.input.Calendar)); err != nil {
			return machine("", "writing the order: %w", err)
		}
		if a.output != "" {
			return a.writeFile(a.output, out.Bytes())
		}
		_, err := a.stdout.Write(out.Bytes())
		return err
	}
	if a.output != "" {
		return usage("add --format csv", "--output writes a table for a spreadsheet")
	}
	if !v.Stock.Kept {
		a.ui.say("note: no stock is kept, so everything is to be ordered; `dropwright stock add FILAMENT` puts the first spool on the shelf")
	}
	if len(v.Stock.Needs) > 0 {
		rows := [][]string{{"needed", "\tneed", "\thave", "\tshort", "", "for week"}}
		for _, n := range v.Stock.Needs {
			var weeks []string
			for _, w := range n.PerWeek {
				weeks = append(weeks, strconv.Itoa(w.Week))
			}
			short := ""
			if n.Short > 0 {
				short = pieces(n.Short)
			}
			rows = append(rows, []string{cut(n.Item, 60), "\t" + pieces(n.Need), "\t" + pieces(n.Have), "\t" + short, n.Unit, strings.Join(weeks, ", ")})
		}
		a.ui.table(rows)
		fmt.Fprintln(a.stdout)
	}
	if len(v.Stock.Orders) == 0 {
		fmt.Fprintln(a.stdout, "nothing is to be ordered for what is known of the coming weeks")
	} else {
		a.orderTable(v.Season, v.input.Calendar)
	}
	a.tightLines(v.Season)
	for _, u := range v.Queue.Unknown {
		fmt.Fprintf(a.stdout, "not counted: %s\n", u)
	}
	for _, n := range v.Notes {
		fmt.Fprintf(a.stdout, "note: %s\n", n)
	}
	return nil
}

// pieces prints an amount: grams and pieces whole, lengths as they are.
func pieces(x float64) string {
	if x >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return unit.Number(x)
}

// orderRows are what to order as a table, the same in text and CSV.
func orderRows(v outlook.Season, cal *calendar.Calendar) [][]string {
	rows := [][]string{{"order", "count", "of", "price", "cost", "by", "for week"}}
	for _, o := range v.Stock.Orders {
		count := plural(o.Packs, o.Word)
		of := ""
		switch {
		case o.Word == "m":
			count = fmt.Sprintf("%d m", o.Packs)
		case o.Word != "piece":
			of = unit.Number(o.Of) + " " + o.Unit
		}
		price, cost := "", ""
		if o.Price != nil {
			price, cost = fmt.Sprintf("%.2f", *o.Price), fmt.Sprintf("%.2f", *o.Cost)
		}
		by := "now"
		if o.By.After(v.Now) {
			by = calendar.DateOf(o.By, cal.Zone()).String()
		}
		rows = append(rows, []string{o.Item, count, of, price, cost, by, strconv.Itoa(o.Week)})
	}
	return rows
}

func (a *app) orderTable(v outlook.Season, cal *calendar.Calendar) {
	rows := orderRows(v, cal)
	for i, r := range rows {
		r[0] = cut(r[0], 60)
		for _, k := range []int{1, 2, 3, 4} {
			if i > 0 || k > 2 {
				r[k] = "\t" + r[k]
			}
		}
	}
	a.ui.table(rows)
	unpriced := ""
	if v.Stock.Unpriced > 0 {
		unpriced = fmt.Sprintf(", %s without a price", plural(v.Stock.Unpriced, "row"))
	}
	if v.Stock.Cost > 0 {
		fmt.Fprintf(a.stdout, "cost: %s%s\n", strings.TrimSpace(fmt.Sprintf("%.2f %s", v.Stock.Cost, v.Currency)), unpriced)
	}
}

// tightLines names the prints that no single spool holds.
func (a *app) tightLines(v outlook.Season) {
	for _, t := range v.Stock.NoSpool {
		fmt.Fprintf(a.stdout, "no single spool of %s holds %s/%s: it takes %s, up to %s; the fullest has %s\n", t.Filament, t.Design, t.Part, unit.Mass(t.Grams), unit.Mass(t.Most), unit.Mass(t.Fullest))
	}
}

func (a *app) completeSpools(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	s, err := a.openSeries()
	if err != nil || len(args) > 0 || s.Config == nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	defer s.close()
	out := s.Config.FilamentNames()
	if shelf, err := a.shelf(s); err == nil && shelf != nil {
		for _, l := range shelf.Lines {
			for _, n := range []string{l.Label, l.Item} {
				if n != "" && l.Kind != stock.Build && !slices.Contains(out, n) {
					out = append(out, n)
				}
			}
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}
