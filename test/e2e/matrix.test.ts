// The kinds of sources that go wrong most easily the whole way; test/long/matrix.test.ts takes all others.
import { keyCases } from '../support/whole-way/cases.ts';
import { testWholeWay } from '../support/whole-way/test-whole-way.ts';

testWholeWay(keyCases);
