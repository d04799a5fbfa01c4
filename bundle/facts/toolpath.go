package facts

// Toolpath is what was found out about the print file beside a part, in one variant.
type Toolpath struct {
	File    string `json:"file"`
	Problem string `json:"problem,omitempty"` // why it cannot be simulated; its figures are then those of the model
	// Misfits says why it does not print this part's mesh, in sentences with both figures; its figures are
	// then those of the model.
	Misfits []string `json:"misfits,omitempty"`
	// OtherLayers says that it prints this mesh in other layers than the settings give, in a sentence with both
	// figures; "": it does not.
	OtherLayers string `json:"other_layers,omitempty"`
	CutOff      int    `json:"cut_off,omitempty"` // number of the last line when it may be cut off inside it; 0: it ends well
}

// Printer is what the time of a bed load needs of a printer of the series, defaults filled in.
type Printer struct {
	Name       string  `json:"name"`
	Start      float64 `json:"start_s"`       // before a load prints
	ChangeOver float64 `json:"change_over_s"` // to take it off
}

// Printer returns the facts of a printer of the series.
func (d *Design) Printer(name string) (*Printer, bool) {
	for i := range d.Printers {
		if d.Printers[i].Name == name {
			return &d.Printers[i], true
		}
	}
	return nil, false
}
