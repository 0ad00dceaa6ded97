package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"deadhop/edid"
	"deadhop/edid/timing"
)

type coloursReport struct {
	Version int        `json:"version"`
	EDID    string     `json:"edid"`
	Red     [2]float64 `json:"red_xy"`
	Green   [2]float64 `json:"green_xy"`
	Blue    [2]float64 `json:"blue_xy"`
	White   [2]float64 `json:"white_xy"`
	Picture string     `json:"picture,omitempty"`
}

func newColours(a *app) *cobra.Command {
	var picture string
	cmd := &cobra.Command{
		Use:   "colours EDID",
		Short: "Show the display's colour points, and draw them",
		Long: `Shows the red, green, blue and white point that an EDID states, as CIE 1931 x
and y, and draws them into the CIE diagram beside the triangle of sRGB.`,
		Example: "  deadhop colours display.bin --picture colours.svg",
		Args:    exactly("the EDID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.colours(cmd.Context(), args[0], picture)
		},
	}
	cmd.Flags().StringVar(&picture, "picture", "", "new SVG file for the CIE diagram")
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) colours(ctx context.Context, source, picture string) error {
	in, err := a.readEDID(ctx, source, 2)
	if err != nil {
		return err
	}
	e, err := edid.Decode(in.bytes)
	if err != nil {
		return badInputf("%s: %w", in.name, err)
	}
	c := e.Base.Chroma
	r := coloursReport{Version: 1, EDID: in.name, Picture: picture}
	var p timing.ColourPoints
	points := []struct {
		name string
		at   edid.Point
		x, y *float64
		into *[2]float64
	}{{"red", c.Red, &p.RedX, &p.RedY, &r.Red}, {"green", c.Green, &p.GreenX, &p.GreenY, &r.Green},
		{"blue", c.Blue, &p.BlueX, &p.BlueY, &r.Blue}, {"white", c.White, &p.WhiteX, &p.WhiteY, &r.White}}
	for _, q := range points {
		*q.x, *q.y = q.at.XY()
		*q.into = [2]float64{*q.x, *q.y}
	}
	if picture != "" {
		if err := writeNew(picture, timing.ChromaticitySVG(p)); err != nil {
			return err
		}
	}
	if a.json {
		return a.printJSON(r)
	}
	for _, q := range points {
		fmt.Fprintf(a.out, "%-6s x %.4f  y %.4f\n", q.name, *q.x, *q.y)
	}
	if picture != "" {
		fmt.Fprintf(a.out, "Written: %s\n", picture)
	}
	return nil
}
