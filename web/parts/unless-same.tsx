/** A component that is drawn again only when one of its props is another one. */
import { Component, type FunctionComponent } from 'preact';

export function unlessSame<Props extends object>(Draw: FunctionComponent<Props>): new () => Component<Props> {
  return class UnlessSame extends Component<Props> {
    override shouldComponentUpdate(next: Readonly<Props>): boolean {
      const names = Object.keys(next) as (keyof Props)[];
      return names.some((name) => next[name] !== this.props[name]);
    }
    override render(props: Props) {
      return <Draw {...props} />;
    }
  };
}
