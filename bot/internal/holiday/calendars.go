package holiday

import (
	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/ar"
	"github.com/rickar/cal/v2/at"
	"github.com/rickar/cal/v2/au"
	"github.com/rickar/cal/v2/be"
	"github.com/rickar/cal/v2/bg"
	"github.com/rickar/cal/v2/br"
	"github.com/rickar/cal/v2/ca"
	"github.com/rickar/cal/v2/ch"
	"github.com/rickar/cal/v2/cz"
	"github.com/rickar/cal/v2/de"
	"github.com/rickar/cal/v2/dk"
	"github.com/rickar/cal/v2/es"
	"github.com/rickar/cal/v2/fr"
	"github.com/rickar/cal/v2/gb"
	"github.com/rickar/cal/v2/gr"
	"github.com/rickar/cal/v2/hr"
	"github.com/rickar/cal/v2/ie"
	"github.com/rickar/cal/v2/it"
	"github.com/rickar/cal/v2/jp"
	"github.com/rickar/cal/v2/lt"
	"github.com/rickar/cal/v2/lv"
	"github.com/rickar/cal/v2/mw"
	"github.com/rickar/cal/v2/nc"
	"github.com/rickar/cal/v2/nl"
	"github.com/rickar/cal/v2/no"
	"github.com/rickar/cal/v2/nz"
	"github.com/rickar/cal/v2/pl"
	"github.com/rickar/cal/v2/ro"
	"github.com/rickar/cal/v2/ru"
	"github.com/rickar/cal/v2/se"
	"github.com/rickar/cal/v2/si"
	"github.com/rickar/cal/v2/sk"
	"github.com/rickar/cal/v2/ua"
	"github.com/rickar/cal/v2/us"
	"github.com/rickar/cal/v2/za"
)

// calendars are the lists of the calendar library by region: countries (ISO 3166-1), and their parts (ISO 3166-2) where it knows the parts' own.
var calendars = map[string][]*cal.Holiday{
	"ar":     ar.Holidays,
	"at":     at.Holidays,
	"be":     be.Holidays,
	"bg":     bg.Holidays,
	"br":     br.Holidays,
	"ca":     ca.Holidays,
	"ch":     ch.Holidays,
	"cz":     cz.Holidays,
	"de":     de.Holidays,
	"dk":     dk.Holidays,
	"es":     es.Holidays,
	"fr":     fr.Holidays,
	"gb":     gb.Holidays,
	"gr":     gr.Holidays,
	"hr":     hr.Holidays,
	"ie":     ie.Holidays,
	"it":     it.Holidays,
	"jp":     jp.Holidays,
	"lt":     lt.Holidays,
	"lv":     lv.Holidays,
	"mw":     mw.Holidays,
	"nc":     nc.Holidays,
	"nl":     nl.Holidays,
	"no":     no.Holidays,
	"nz":     nz.Holidays,
	"pl":     pl.Holidays,
	"ro":     ro.Holidays,
	"ru":     ru.Holidays,
	"se":     se.Holidays,
	"si":     si.Holidays,
	"sk":     sk.Holidays,
	"ua":     ua.Holidays,
	"us":     us.Holidays,
	"za":     za.Holidays,
	"au-act": au.HolidaysACT,
	"au-nsw": au.HolidaysNSW,
	"au-nt":  au.HolidaysNT,
	"au-qld": au.HolidaysQLD,
	"au-sa":  au.HolidaysSA,
	"au-tas": au.HolidaysTAS,
	"au-vic": au.HolidaysVIC,
	"au-wa":  au.HolidaysWA,
	"ch-ag":  ch.HolidaysAG,
	"ch-ai":  ch.HolidaysAI,
	"ch-ar":  ch.HolidaysAR,
	"ch-be":  ch.HolidaysBE,
	"ch-bl":  ch.HolidaysBL,
	"ch-bs":  ch.HolidaysBS,
	"ch-fr":  ch.HolidaysFR,
	"ch-ge":  ch.HolidaysGE,
	"ch-gl":  ch.HolidaysGL,
	"ch-gr":  ch.HolidaysGR,
	"ch-ju":  ch.HolidaysJU,
	"ch-lu":  ch.HolidaysLU,
	"ch-ne":  ch.HolidaysNE,
	"ch-nw":  ch.HolidaysNW,
	"ch-ow":  ch.HolidaysOW,
	"ch-sg":  ch.HolidaysSG,
	"ch-sh":  ch.HolidaysSH,
	"ch-so":  ch.HolidaysSO,
	"ch-sz":  ch.HolidaysSZ,
	"ch-tg":  ch.HolidaysTG,
	"ch-ti":  ch.HolidaysTI,
	"ch-ur":  ch.HolidaysUR,
	"ch-vd":  ch.HolidaysVD,
	"ch-vs":  ch.HolidaysVS,
	"ch-zg":  ch.HolidaysZG,
	"ch-zh":  ch.HolidaysZH,
	"de-bb":  de.HolidaysBB,
	"de-be":  de.HolidaysBE,
	"de-bw":  de.HolidaysBW,
	"de-by":  de.HolidaysBY,
	"de-hb":  de.HolidaysHB,
	"de-he":  de.HolidaysHE,
	"de-hh":  de.HolidaysHH,
	"de-mv":  de.HolidaysMV,
	"de-ni":  de.HolidaysNI,
	"de-nw":  de.HolidaysNW,
	"de-rp":  de.HolidaysRP,
	"de-sh":  de.HolidaysSH,
	"de-sl":  de.HolidaysSL,
	"de-sn":  de.HolidaysSN,
	"de-st":  de.HolidaysST,
	"de-th":  de.HolidaysTH,
}
