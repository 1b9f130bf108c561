/** A code that opens this page on the phone, where the local network was allowed. */

import { useEffect, useState } from "preact/hooks";
import { request } from "../api/http";
import { sayTrouble } from "../state/notices";
import { bench } from "../state/store";

interface Code {
  url: string;
  image: string;
  expires_s: number;
}

export function Invite() {
  const [code, setCode] = useState<Code | null>(null);
  const [left, setLeft] = useState(0);
  const lan = bench.value?.lan;
  useEffect(() => {
    if (!code) return;
    const timer = setInterval(() => setLeft((s) => s - 1), 1000);
    return () => clearInterval(timer);
  }, [code]);
  useEffect(() => {
    if (code && left <= 0) setCode(null);
  }, [left]);
  useEffect(() => {
    if ((lan?.phones ?? 0) > 0) setCode(null);
  }, [lan?.phones]);
  const invite = async () => {
    try {
      const got = await request<Code>("POST", "/api/lan/code", {});
      setCode(got);
      setLeft(got.expires_s);
    } catch (error) {
      sayTrouble(error);
    }
  };
  return (
    <section class="sheet" aria-labelledby="phone-title">
      <h2 id="phone-title">Straight from the phone</h2>
      {!lan?.on ? (
        <p>
          The program listens on this computer only. Started as <code>profiler serve --lan</code>, it shows
          a code here that the phone can scan; phone and computer have to be in the same network.
        </p>
      ) : code ? (
        <>
          <img class="code" src={code.image} alt="Code to scan with the phone's camera" />
          <p>
            Scan it with the phone's camera, or type <code>{code.url}</code>. It is good for one phone and{" "}
            {Math.max(0, Math.ceil(left / 60))} more min.
          </p>
        </>
      ) : (
        <>
          <p>
            {lan.phones > 0
              ? `${lan.phones === 1 ? "One phone is" : `${lan.phones} phones are`} at the bench.`
              : "The phone takes the photo and says at once what is wrong with it."}
          </p>
          <div>
            <button type="button" onClick={() => void invite()}>
              Show a code for {lan.phones > 0 ? "another" : "the"} phone
            </button>
          </div>
        </>
      )}
    </section>
  );
}
