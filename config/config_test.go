package config

import (
	"fmt"
	"path/filepath"
	"testing"
)

func TestTmp(t *testing.T) {
	ms, _ := filepath.Glob("../../shared/worlds/*/house.yaml")
	gs, _ := filepath.Glob("testdata/good/*.yaml")
	for _, m := range append(gs, ms...) {
		c, err := Load(m)
		if err != nil {
			t.Error(err)
			continue
		}
		if len(m) < 40 {
			fmt.Printf("%+v\n", *c)
			for _, x := range c.Cylinders {
				fmt.Printf("  %+v\n", x)
				if x.Scale != nil {
					fmt.Printf("  %+v\n", x.Scale)
				}
			}
		}
	}
}
