// Every kind of source the whole way, but for the cases that test/e2e/matrix.test.ts takes.
import { otherCases } from '../support/whole-way/cases.ts';
import { testWholeWay } from '../support/whole-way/test-whole-way.ts';

testWholeWay(otherCases);
