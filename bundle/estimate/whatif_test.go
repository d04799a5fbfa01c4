package estimate

import (
	"fmt"
	"strings"
	"testing"
)

func TestVariations(t *testing.T) {
	var tries []Try
	for _, text := range []string{"layer=0.12, 0.2 mm", "infill=10,15 %,25"} {
		try, err := ParseTry(text)
		if err != nil {
			t.Fatal(err)
		}
		tries = append(tries, try)
	}
	list, err := Variations(plain, tries)
	if err != nil || len(list) != 6 {
		t.Fatalf("%v, %v", list, err)
	}
	if v := list[4]; v.Layer != 0.2 || v.Infill != 0.15 || fmt.Sprint(v.Values) != "[0.2 mm 15 %]" || v.Walls != plain.Walls {
		t.Errorf("got %+v", v)
	}
	if list[0].Infill != 0.1 || list[1].Layer != 0.12 || list[5].Infill != 0.25 {
		t.Errorf("order: %+v", list)
	}
	if one, err := Variations(plain, nil); err != nil || len(one) != 1 || one[0].Settings != plain {
		t.Errorf("without tries the present settings: %+v, %v", one, err)
	}
}

func TestEverySettingCanBeSet(t *testing.T) {
	values := map[string]string{"material": "PETG", "supports": "needed", "walls": "3", "solid_top": "5", "solid_bottom": "6",
		"density": "1.3", "diameter": "2.85", "limit_angle": "50", "support_density": "20", "brim": "4", "infill": "40", "line": "0.5", "layer": "0.25", "first_layer": "0.3"}
	s := plain
	for _, name := range settable {
		if err := s.Set(name, values[name]); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	want := "map[brim:4 density:1.3 diameter:2.85 first_layer:0.3 infill:40 layer:0.25 limit_angle:50 line:0.5 material:PETG solid_bottom:6 solid_top:5 support_density:20 supports:needed walls:3]"
	if got := fmt.Sprint(s.Map()); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if len(s.Map()) != len(settable) {
		t.Errorf("%d settings can be set, %d are shown", len(settable), len(s.Map()))
	}
	filled := plain.filled()
	if err := filled.Set("layer", "0.3"); err != nil || filled.FirstLayer != 0.3 {
		t.Errorf("the first layer stayed behind: %+v, %v", filled, err)
	}
}

func TestTryRefuses(t *testing.T) {
	for text, want := range map[string]string{"layer": "write a setting", "layer=": "write a setting", "colour=red": "no print setting", "layre=0.2": "no print setting"} {
		if _, err := ParseTry(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", text, err)
		}
	}
	for text, want := range map[string]string{
		"layer=thick": "not a number", "walls=2.5": "whole number", "supports=maybe": "none or needed", "infill=200": "out of range",
		"layer=0.2,9": "out of range", "material=oak": "no density", "infill=" + strings.Repeat("1,", 300) + "1": "more than 200",
	} {
		try, err := ParseTry(text)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Variations(plain, []Try{try}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40s: %v", text, err)
		}
	}
}
