import { sheetFont } from './assets.ts';

/** The page's typeface as style rules with its bytes. */
export function fontRules(): string {
  return ([400, 600] as const)
    .map((weight) => {
      const data = `data:font/woff2;base64,${sheetFont(weight).toString('base64')}`;
      return `@font-face{font-family:Sheet;src:url(${data}) format("woff2");font-weight:${weight}}`;
    })
    .join('');
}

/** Looks of the report of a replay: those of the page, as one style element, so that the report stands alone. */
export const REPORT_STYLE = `
:root{color-scheme:light;--ground:#e4e7e3;--plate:#eef0ec;--ink:#172025;--ink2:#46525a;--line:#bcc4c1;--mid:#6d797c;--p1:#a81b10;--p2:#8f4a00;--p3:#665600}
@media (prefers-color-scheme:dark){:root{color-scheme:dark;--ground:#12171a;--plate:#182024;--ink:#e3e8e5;--ink2:#a6b1b3;--line:#39444a;--mid:#87949a;--p1:#ff7d69;--p2:#ffb05c;--p3:#e2cb5a}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:400 15px/1.45 Sheet,"Sofia Sans Semi Condensed","Arial Narrow",Arial,sans-serif}
main{max-width:1180px;margin:0 auto;padding:0 24px 40px}
header{display:flex;flex-wrap:wrap;gap:4px 24px;align-items:baseline;padding:14px 0;border-bottom:1px solid var(--line)}
header b{font-size:19px;font-weight:600}
header span{color:var(--ink2)}
header span:last-child{margin-left:auto}
h1{font-size:24px;font-weight:600;margin:18px 0 6px}
h2{font-size:21px;font-weight:600;margin:34px 0 8px;padding-top:10px;border-top:2px solid var(--ink)}
h3{font-size:15px;font-weight:600;margin:22px 0 4px}
h3 small{font-weight:400;color:var(--ink2);font-size:14px}
p{margin:6px 0;max-width:84ch}
.lead{font-size:18px;line-height:1.4}
.keys{display:grid;grid-template-columns:repeat(auto-fit,minmax(170px,1fr));border-bottom:1px solid var(--line);margin:8px 0 14px}
.keys div{padding:8px 14px;border-left:1px solid var(--line)}
.keys div:first-child{border-left:0;padding-left:0}
.keys span,.keys small{display:block;color:var(--ink2);font-size:14px}
.keys strong{font-weight:400;font-size:32px;line-height:1.15}
.keys em{font-style:normal;font-size:14px;color:var(--ink2)}
figure{overflow-x:auto;margin:10px 0;background:var(--plate);padding:10px 12px}
figcaption{font-size:14px;color:var(--ink2)}
figcaption b{color:var(--ink);font-weight:600}
svg{display:block;min-width:640px;width:100%;height:auto}
svg text{fill:var(--ink2);font-size:12px}
svg .grid{stroke:var(--line);stroke-width:1}
svg .curve{fill:none;stroke:var(--ink);stroke-width:1.6;stroke-linejoin:round}
svg .area{fill:var(--line);opacity:.55}
svg .alarm{stroke:var(--p1);stroke-width:1.4}
svg .alarm.low{stroke:var(--p3)}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:14px}
th{font-weight:400;color:var(--ink2);text-align:right;padding:3px 0 3px 14px;vertical-align:bottom;border-bottom:1px solid var(--ink)}
td{text-align:right;padding:3px 0 3px 14px;border-bottom:1px solid var(--line);vertical-align:top;font-variant-numeric:tabular-nums}
th:first-child,td:first-child{text-align:left;padding-left:0}
th.l,td.l{text-align:left}
td.p1{color:var(--p1)}td.p2{color:var(--p2)}td.p3{color:var(--p3)}
td.l{min-width:130px}
td.why,th.why{text-align:left;width:36%}
td.when{white-space:nowrap}
td small{color:var(--ink2)}
ul{margin:4px 0;padding-left:18px}
footer{margin-top:34px;padding-top:10px;border-top:1px solid var(--line);color:var(--ink2);font-size:14px}
details summary{cursor:pointer;color:var(--ink2);margin:6px 0}
@media (max-width:560px){main{padding:0 14px 30px}.keys{grid-template-columns:1fr 1fr}.keys div{border-left:0;padding-left:0}.keys strong{font-size:27px}header span:last-child{margin-left:0}}
@media print{:root{--ground:#fff;--plate:#fff}details{display:block}details>*{display:block}h2{break-before:page}h2:first-of-type{break-before:auto}}
`;
