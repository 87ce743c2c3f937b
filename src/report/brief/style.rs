//! The style sheet: print first, then the telephone, then the desk. Ratings take their colours from `base/ramp.rs`; the greys,
//! and the blue of open sky, are ours.

/// The style sheet.
pub(super) fn css() -> &'static str {
    CSS
}

const CSS: &str = "\
:root{--ink:#1a1a1a;--soft:#4a4a4a;--line:#9a9a9a;--paper:#fff;--shade:#f0efeb;--figure:#fff}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0 auto;padding:1rem;max-width:62rem;font:1rem/1.45 system-ui,'Liberation Sans',Arial,sans-serif;color:var(--ink);\
background:var(--paper);overflow-wrap:anywhere;font-variant-numeric:tabular-nums}
h1{font-size:1.7rem;line-height:1.15;margin:0 0 .3rem}
h2{font-size:1.3rem;line-height:1.2;margin:2rem 0 .6rem;padding-top:.5rem;border-top:3px solid var(--ink)}
h3{font-size:1rem;margin:1.2rem 0 .3rem}
p{margin:.3rem 0}
a{color:inherit}
.small,figcaption,footer{font-size:.85rem;color:var(--soft)}
.passenger{font-weight:700}
ol.answer,ul.answer{list-style:none;margin:.4rem 0;padding:0}
.days{list-style:none;margin:.4rem 0;padding:0}
.jumps{display:flex;flex-wrap:wrap;gap:.2rem 1rem;font-size:.9rem}
.cards{list-style:none;margin:.3rem 0 .8rem;padding:0}
.card{border:1px solid var(--line);border-left:5px solid var(--ink);padding:.35rem .7rem;margin:.5rem 0}
.card p{margin:.15rem 0}
.verdict{font-size:1.12em;letter-spacing:.03em}
.unsure .verdict{background:var(--ink);color:var(--paper);padding:0 .35em}
.unsure{border:2px solid var(--ink);border-left-width:9px}
.why{font-size:.93em}
details{margin:.6rem 0;border-top:1px solid var(--line);padding-top:.3rem}
summary{font-weight:700;padding:.3rem 0;cursor:pointer}
.answer li{margin:.35rem 0;padding-left:.7rem;border-left:3px solid var(--ink)}
li{margin:.15rem 0}
ul.answer li{border-left-color:var(--line)}
.sign{display:inline-block;min-width:1.3em;padding:0 .25em;text-align:center;font-weight:700;background:#1a1a1a;color:#fff}
table{border-collapse:collapse;width:100%;margin:1.1rem 0 .3rem;font-size:.9rem}
caption{text-align:left;font-weight:700;font-size:1rem;padding-bottom:.2rem}
th,td{overflow-wrap:normal;text-align:left;vertical-align:top;padding:.22rem .5rem .22rem 0;border-bottom:1px solid var(--line);font-weight:400;unicode-bidi:isolate}
thead th{font-weight:700;font-size:.8rem;color:var(--soft);vertical-align:bottom;border-bottom-width:2px}
td.n,tbody th.n{white-space:nowrap}
td.a,tbody th.a{overflow-wrap:anywhere;min-width:5.5em}
.wide{overflow-x:auto}
tr.strong{background:var(--shade);font-weight:700}
tr.strong th,tr.strong td{font-weight:700}
figure{margin:1rem 0}
figcaption{margin-top:.3rem}
svg{display:block;width:100%;height:auto;font-family:inherit}
.map svg:first-child,.strip svg:first-child{border:1px solid var(--line)}
.map{max-width:46rem}
.strip{max-width:27rem}
.pair{display:grid;grid-template-columns:minmax(0,1fr);gap:0 1.5rem;align-items:start}
.pair>div{min-width:0}
.legend{list-style:none;display:flex;flex-wrap:wrap;gap:.2rem 1rem;margin:.4rem 0 0;padding:0;font-size:.85rem}
.legend li{display:flex;align-items:center;gap:.4rem}
.swatch{width:44px;height:14px;flex:none;background:var(--figure)}
.swatch.s{width:20px}
.cautions{border:2px solid var(--ink);padding:0 1rem .5rem;margin-top:2rem}
.cautions h2{border:0;margin-top:.4rem}
.cautions li{margin:.2rem 0}
footer{margin-top:2rem;border-top:1px solid var(--line)}
svg text{font-size:11px;fill:#1a1a1a}
.paper{fill:var(--figure)}
.roads path,.trip path,.band path{fill:none;stroke-linecap:round;stroke-linejoin:round;vector-effect:non-scaling-stroke}
.roads{opacity:.55}
.map .mark text{text-anchor:middle;font-size:12px;font-weight:700}
.on-ink{fill:#fff!important}
.words{text-anchor:middle;paint-order:stroke;stroke:#fff;stroke-width:3px;stroke-linejoin:round}
.map .mark .words.town{font-style:normal;font-weight:700}
.words.from{text-anchor:start}
.map .mark .words{font-weight:400;font-style:italic}
.ink{fill:#1a1a1a;stroke:#1a1a1a}
.half{fill:#9a9a9a;stroke:#1a1a1a;stroke-width:.8}
.plate{fill:#fff;stroke:#1a1a1a;stroke-width:1.4}
.plate-thin{fill:#fff;fill-opacity:.85;stroke:none}
.dot{fill:#fff;stroke:#1a1a1a;stroke-width:1.6}
.tick{fill:#1a1a1a;stroke:#fff;stroke-width:.8}
.lead{fill:none;stroke:#1a1a1a;stroke-width:.8}
.arrow{fill:#1a1a1a;stroke:#fff;stroke-width:1;paint-order:stroke}
.bar{fill:none;stroke:#1a1a1a;stroke-width:1.6}
.north{fill:#1a1a1a}
.strip text.r{text-anchor:end}
.strip text.m{text-anchor:middle}
.strip text.b,.strip tspan.b{font-weight:700}
.strip text.h{font-weight:700;font-size:10.5px}
.strip text.s{font-size:9px}
.hair{fill:none;stroke:#c4c4c4;stroke-width:.6}
.line{fill:none;stroke:#1a1a1a;stroke-width:.8}
.sky{fill:#9dbacb}
.gap{fill:var(--hatch);stroke:#4a4a4a;stroke-width:.6}
.strip text{paint-order:stroke;stroke:#fff;stroke-width:2.4px;stroke-linejoin:round}
.unknown{fill:#fff;stroke:#1a1a1a;stroke-dasharray:2 2}
.off{fill:none;stroke:#1a1a1a;stroke-width:7;stroke-dasharray:1.2 3.4}
@media print,screen and (min-width:54rem){
.pair{grid-template-columns:minmax(0,26rem) minmax(0,1fr);grid-template-rows:auto 1fr}
.pair>.strip{grid-column:1;grid-row:1/span 2}
.pair>div{grid-column:2}
}
@media screen and (max-width:40rem){
.map .mark{transform:scale(1.5)}
.map .tick{r:3.4px}
.map text.size{font-size:19px}
table,thead,tbody,tr,th,td,caption{display:block}
thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
tbody tr{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);gap:.15rem 1rem;border-bottom:2px solid var(--line);padding:.45rem 0}
tbody th,tbody td{border:0;min-width:0;overflow-wrap:anywhere;padding:0}
tbody th::before,tbody td::before{content:attr(data-head);display:block;color:var(--soft);font-weight:400;font-size:.75rem;line-height:1.2}
tbody th{font-weight:700}
tbody td.a{grid-column:1/-1}
td.n,tbody th.n{white-space:normal}
.wide{overflow-x:visible}
}
@media screen and (prefers-color-scheme:dark){
:root{--ink:#e6e3dc;--soft:#b5b1a8;--line:#5d5a54;--paper:#151412;--shade:#2a2824;--figure:#cfccc4}
.sign{background:#e6e3dc;color:#151412}
.map>svg,.strip>svg{filter:brightness(.86)}
}
@page{size:A4;margin:13mm 12mm}
@media print{
body{padding:0;max-width:none;font-size:9.5pt;line-height:1.35}
h1{font-size:17pt}h2{font-size:13pt;margin-top:0}h3{font-size:10pt}
table{font-size:8.3pt}caption{font-size:9.5pt}thead th{font-size:7.5pt}
.small,figcaption,footer,.legend{font-size:8pt}
section.day{break-before:page}
header+main>section.day:first-child{break-before:auto}
h2,h3,caption,thead{break-after:avoid}
tr,li,figure,.cautions,.late-of-day{break-inside:avoid}
.jumps,details{display:none}
.card{padding:.2rem .5rem;margin:.25rem 0}
.pair{grid-template-columns:86mm minmax(0,1fr);gap:0 6mm}
.strip{margin-top:.4rem}
.strip>svg{width:auto;max-width:100%;max-height:150mm;margin:0 auto}
.pair table{font-size:8pt}
.map{max-width:none}
.wide{overflow-x:visible}
.map>svg:first-child{max-height:78mm}
.map>svg{width:auto;max-width:100%;margin:0 auto}
a{text-decoration:none}
svg,.sign,tr.strong{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
";
